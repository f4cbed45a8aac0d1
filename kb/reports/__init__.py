"""One file a report: one question the doctor asks, answered from a `Base`."""
