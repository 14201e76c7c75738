"""What a person gets to see of a run: one HTML file that opens without network, and one picture.

`run.Run` is what goes in, `page.write_report` and `plots.write_overview` are what comes out. `html` is the frame and the
tables of any report of this project. Every number on a page is taken from the run's document or trace and shown with its
formula; nothing is computed here that the document already says.
"""
