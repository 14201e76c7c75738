"""What a person sees of a run: an HTML file that needs no network, and a picture.

Every number on a page comes from the run's document or trace and is shown with its formula. Nothing
is computed here that the document already has.
"""
