"""The stages of a comparison, each over all options: the only place where a study meets the physics.

Reading order: `sources` (what each option is), `power` (can it carry and start the loads),
`daily` (everyday use and bills), `outage` (a year of outages), `money` (cash and measures),
`columns` (the summary row), `verdict` (the answer by what was asked). `kit.compare` runs them.
"""
