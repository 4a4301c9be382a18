"""A small good scenario for tests of mechanics.

Its numbers are invented, except the stay until tuberculosis is ruled out (median 68 h, third
quartile 97.5 h: Lippincott et al., Clinical Infectious Diseases 2014;59:186-192).
"""

from __future__ import annotations

BASE = """\
title: Two rooms (invented)
start: 2031-01-06 07:00
horizon: 14 d
arrivals: {baseline: 1 per day, initial_census: 1}
rooms: {count: 2, air_changes: 12 per h}
classes:
  ward:
    share: 100 %
    length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}
    entries: {nurse: 20 per day}
roles:
  nurse: {room_time: 5 min}
kit: {pre_use_check: 1 min, don: 2 min, doff: 2 min, levels: [{run_time: 8 h}]}
batteries: {charge_time: 3 h, issued: fullest, minimum_run_time: 30 min, low_battery_alarm: 10 min}
cleaning: {by: wearer, wipe_down: 4 min, contact_time: 2 min, drying_time: 10 min}
stock: {kits: 4, batteries: 6, bays: 2}
target: {wait: 5 min, service_level: 95 %, share_of_surges: 90 %}
"""


def changed(*changes: tuple[str, str]) -> str:
    """Return the text with some parts replaced; each part must be there."""
    text = BASE
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text
