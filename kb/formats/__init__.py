"""Codecs: text to records and back. Nothing here touches the disk."""
