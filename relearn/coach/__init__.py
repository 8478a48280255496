"""The technician's companion during a relearn: live data to advice. It advises and records; it does nothing to a car."""
