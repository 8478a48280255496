"""What SAE J1979 answers mean. Every parameter is a row of `parameters.toml`; Python holds only the rules."""
