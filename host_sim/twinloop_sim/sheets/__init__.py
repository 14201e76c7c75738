"""Pages, words and units that need no simulation; the bench uses them too."""
