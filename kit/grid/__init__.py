"""The grid: what it charges and how often it fails.

`rates` lays a plan over the year, `bill` makes the twelve bills, `outages` says how often, when and
how long the grid is down, `outage_rates` turns published indices or an own log into rates.
"""
