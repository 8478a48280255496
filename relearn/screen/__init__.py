"""The page in the browser: a live bus, a replay or a scenario as charts and verdicts. It computes nothing itself."""
