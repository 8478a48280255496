"""One file per question asked of a capture. Pure: channels and limits in, verdicts out."""
