"""The bench page: one local page on which the whole job is done."""
