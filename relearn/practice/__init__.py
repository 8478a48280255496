"""An invented car to practise on: a small mean-value engine model, and the captures written from it."""
