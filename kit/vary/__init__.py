"""Many cases of one study, each put through the same stages, in one tidy table."""
