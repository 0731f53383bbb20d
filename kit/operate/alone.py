"""Drawn events of a house that nothing charges in an outage: a battery alone, or no source at all.

What `kit.operate.walk` tells of that house, whose charge only falls. An event that running sums show to be
served from begin to end takes no walk. In the others a step that the battery serves whole, well above the
level where anything changes, is one subtraction; elsewhere it goes from happening to happening as the walk
does: the battery takes over, meets the level below which wanted loads rest, is empty (and stays so), its
inverter fails, or a load is beyond its power. Once it is down for good the rest is running sums again.
Where the start step alone says how an event goes, what one event found there serves all that begin there:
for how long the battery surely lasts, and how things stood when it was down for good.
"""

from __future__ import annotations

import numpy as np

from kit.operate.compiled import compiled

Array = np.ndarray

EPS = 1e-9
FAR = 1.0 + 1e-12  # what lies beyond this share of the time left lies beyond it however a division rounds
SURELY = 1e-6  # of the full store and 1 kWh: more than running sums over a year can be wrong by

# places of the numbers in `number`
STEP_H, FULL_KWH, FLOOR_KWH, WANTED_KWH, BATTERY_KW, DISCHARGE_EFF, IDLE_KW, TOLERATES_H = range(8)


@compiled(
    "void(f8[::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1], i8[::1], i2[::1], i4[::1], f8[::1], b1[::1], b1, "
    "f8[::1], f8[::1], f8[::1], f8[:,::1], f8[::1], f8[::1], f8[::1], f8[::1])"
)
def live(
    number: Array, must_kw: Array, wanted_kw: Array, change_kwh: Array, reach: Array, counts: Array,
    year: Array, start: Array, lasts_h: Array, followed: Array, by_start: bool, stored_kwh: Array,
    ready_h: Array, serves_h: Array, dark_h: Array, dark_kwh: Array, failed: Array, event_h: Array,
    left_kwh: Array,
) -> None:  # fmt: skip
    """Live through events (E,), adding to the lifetimes' sums.

    Per step of the year (n,): must_kw; wanted_kw (served above WANTED_KWH), cut to what the battery can carry
    beside the must-run load; change_kwh (2, n) of the store in a whole step, without and with the wanted
    loads, -inf where the must-run load is beyond the battery. reach (n + K + 1, 4), K steps of the longest
    event: running sums round the year of change_kwh, none taken below -(full + 1), of the hours with a
    must-run load, and of its kWh. counts (L,): events of each lifetime, in order. Per event: year, start,
    lasts_h, followed, stored_kwh (by_start: of each step of the year), ready_h (hours until the battery
    serves), serves_h (hours of service until its inverter fails); the last two may be (1,), for all alike.
    Sums: dark_h (L, years), dark_kwh, failed, event_h (L,). left_kwh (E,): stored at the end of the events
    that are followed.
    """
    n, dt = must_kw.size, number[STEP_H]
    full, floor, wanted_at = number[FULL_KWH], number[FLOOR_KWH], number[WANTED_KWH]
    battery_kw, idle_kw, eff = number[BATTERY_KW], number[IDLE_KW], number[DISCHARGE_EFF]
    tolerates_h = number[TOLERATES_H]
    each_ready, each_serves, led = ready_h.size > 1, serves_h.size > 1, followed.size > 0
    wanted_floor = max(floor, wanted_at)
    surely = SURELY * (full + 1.0)
    alike = by_start and not each_ready and not each_serves  # the start step alone says how an event goes
    lasting = np.zeros(n if alike else 0, np.int32)  # steps from each start that are surely served
    fell = np.full(lasting.size, -1, np.int32)  # the step, counted from the start, after which it is down
    fallen = np.empty((lasting.size, 5))  # hours and kWh dark until then, the gap, its begin, `ended`
    whose, until = -1, 0
    for i in range(start.size):
        while i >= until:
            whose += 1
            until += counts[whose]
        lasts, began = lasts_h[i], start[i]
        count = np.int64(np.ceil(lasts / dt))
        event_h[whose] += lasts
        watched = led and followed[i]
        if alike and count <= lasting[began] and not watched:
            continue
        stored = min(max(stored_kwh[began if by_start else i], 0.0), full)
        ready, serves = ready_h[i if each_ready else 0], serves_h[i if each_serves else 0]
        row = 1 if stored > wanted_at + EPS else 0
        calm_above = (wanted_floor if row == 1 else floor) + 2.0 * EPS
        if ready > EPS:
            calm_above = np.inf
        after = stored + (reach[began + count, row] - reach[began, row])
        if after > calm_above + surely and serves > count * dt + dt and not watched:
            if alike:
                lasting[began] = max(lasting[began], count)
            continue  # served from begin to end

        dark, down, last = False, -1, count - 1
        part = (lasts - last * dt) / dt  # of the last step
        gap_h, gap_from, ended, all_out_h, all_out_kwh, out_h, out_kwh = 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0
        known = alike and not watched and 0 <= fell[began] < last
        if known:
            down = fell[began]
            all_out_h, all_out_kwh, gap_h, gap_from, ended = fallen[began]
        j = began - 1
        for k in range(0 if known else count):
            j = j + 1 if j + 1 < n else 0
            after = stored + (change_kwh[row, j] * part if k == last else change_kwh[row, j])
            if after > calm_above and serves >= dt:
                stored = after
                serves -= dt
                gap_h = 0.0 if must_kw[j] > 0.0 else gap_h
                continue
            must, out_h, out_kwh = must_kw[j], 0.0, 0.0
            t, end = k * dt, lasts if k == last else k * dt + dt
            while end - t > EPS:
                left, rate, served = end - t, 0.0, False
                if serves > EPS and t < ready - EPS:
                    left = min(left, ready - t)
                elif serves > EPS and not dark and must <= battery_kw + EPS:
                    wanted = wanted_kw[j] if stored > wanted_at + EPS else 0.0
                    net = must + wanted + idle_kw
                    if net > 0.0:
                        if stored <= floor + EPS:
                            dark = True
                            continue
                        rate = -net / eff
                        left = min(left, (stored - floor) / -rate)
                        if wanted > EPS and stored - wanted_at < FAR * -rate * left:
                            left = min(left, max(EPS, (stored - wanted_at) / -rate))
                    served = True
                    left = min(left, serves)
                    serves -= left
                stored = min(full, max(0.0, stored + rate * left))
                if must > 0.0:
                    if served:
                        gap_h = 0.0
                    else:
                        gap_from = t if gap_h <= 0.0 else gap_from
                        gap_h += left
                        out_h += left
                        out_kwh += must * left
                        if ended < 0.0 and gap_h > tolerates_h + EPS:
                            ended = gap_from
                t += left
            if gap_h > 0.0 and (dark or serves <= EPS):
                down = k
                break
            all_out_h, all_out_kwh = all_out_h + out_h, all_out_kwh + out_kwh
            row = 1 if stored > wanted_at + EPS else 0
            calm_above = (wanted_floor if row == 1 else floor) + 2.0 * EPS
            if dark or end < ready - EPS:
                calm_above = np.inf
        if down >= 0 and not known:
            all_out_h, all_out_kwh = all_out_h + out_h, all_out_kwh + out_kwh
            if alike and down < last:
                fell[began], fallen[began] = down, (all_out_h, all_out_kwh, gap_h, gap_from, ended)
        if 0 <= down < last:  # for good: what follows is dark too
            here, there = began + down + 1, began + last
            dark_after_h = reach[there, 2] - reach[here, 2] + part * (reach[there + 1, 2] - reach[there, 2])
            all_out_h += dark_after_h
            all_out_kwh += reach[there, 3] - reach[here, 3] + part * (reach[there + 1, 3] - reach[there, 3])
            gap_h += dark_after_h
            if ended < 0.0 and gap_h > tolerates_h + EPS:
                ended = gap_from
        dark_h[whose, year[i]] += all_out_h
        dark_kwh[whose] += all_out_kwh
        if ended >= 0.0 and ended + tolerates_h < lasts - EPS:
            failed[whose] += 1.0
        if watched:
            left_kwh[i] = stored
