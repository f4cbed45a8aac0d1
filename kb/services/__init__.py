"""The use cases that command line and page both call."""
