"""What a person sees of a run: an HTML file that needs no network, and a picture.

`run.Run` goes in; `page.write_report` and `plots.write_overview` write the files. Every number on a
page comes from the run's document or trace and is shown with its formula. Nothing is computed here
that the document already has.
"""
