"""What a person reads: one module per format, all from the triage document. Nothing here decides anything."""
