"""What a report is made of, how it is rendered, and parts that reports share."""
