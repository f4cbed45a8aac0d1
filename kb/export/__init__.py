"""What the base holds -> text or bytes of one format, one file each."""
