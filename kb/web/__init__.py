"""The local page: the reports of the command line as HTML, for a phone and a laptop."""
