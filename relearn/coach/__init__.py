"""The technician's companion during a relearn: live data to advice. It does nothing to a car but read."""
