"""The outage walk: every start of an outage, followed hour by hour until the grid returns.

Inside a step all is constant between two happenings (the set becomes ready, a tank runs dry, the charge meets
a level, a machine fails), so the walk goes from one to the next and its moments are exact, not rounded to
steps; what lies between them meets the events that are still there.

The set is ready after its start (or set-up) delay, rests by its run schedule, stops for refuelling, fails
by its own draws and is tried again after repair; by hand it is started only when someone is up. Beside a
battery it starts below one charge, stops at another, and runs near its best load. The battery serves the
must-run load down to the outage floor, then is dark until solar (or the set) brings it to the restart level.
Wanted loads run while the set has room, from spare solar power, or from storage above a chosen charge.
"""

import numpy as np

from kit.operate.compiled import compiled

Array = np.ndarray

# places of the numbers in `number` (one option)
STEP_H, FULL_KWH, FLOOR_KWH, RESTART_KWH, WANTED_KWH, BATTERY_KW, SOLAR_CHARGE_KW = range(7)
SET_CHARGE_KW, CHARGE_EFF, DISCHARGE_EFF, IDLE_KW, SET_KW, SET_BEST_KW, START_KWH = range(7, 14)
STOP_KWH, TANK, ON_SITE, RESUPPLY, RESUPPLY_EVERY_H, REFUEL_GAP_H, RUN_H = range(14, 21)
CYCLE_H, REPAIR_H, RESUPPLY_DELAY_H, TOLERATES_H, HARD_H, HAS_BATTERY, HAS_SET = range(21, 28)
PIPED, NIGHT_FUEL, PARALLEL, SOLAR_BESIDE_SET, SOLAR_CHARGES, BY_HAND, LATCHED = range(28, 35)
NUMBERS = 35
# columns of `totals` (expected per event, weighted over starts and durations)
MUST_OUT_H, MUST_OUT_KWH, WANTED_OUT_KWH, SET_RUN_H, FUEL, REFUELS = range(6)
SET_KWH, SOLAR_KWH, MUST_KWH, EVENT_H, DRAWN_KWH = range(6, 11)
TOTALS = 11
# columns of `trace` (one start, means over each step)
T_MUST, T_WANTED, T_SOLAR, T_BATTERY, T_SET = range(5)
T_UNSERVED, T_STORED, T_FUEL, T_REFUELS, T_FAILURES = range(5, 10)
TRACES = 10

EPS = 1e-9
FAR = 1.0 + 1e-12  # what lies beyond this share of the time left lies beyond it however a division rounds


@compiled("f8(f8, f8[::1], f8[::1])")
def _burn(out_kw: float, output_kw: Array, fuel_per_h: Array) -> float:
    """Fuel of an hour at an output, between the points given; flat beyond the first and the last."""
    p = 1
    while p < len(output_kw) - 1 and output_kw[p] < out_kw:
        p += 1
    share = min(1.0, max(0.0, (out_kw - output_kw[p - 1]) / (output_kw[p] - output_kw[p - 1])))
    return float(fuel_per_h[p - 1] + share * (fuel_per_h[p] - fuel_per_h[p - 1]))


@compiled(
    "void(f8[::1], i8[::1], f8[::1], f8[::1], f8[::1], f8[::1], b1[::1], b1[::1], f8[::1], f8[::1], "
    "f8[::1], b1[::1], b1[::1], b1[::1], b1[::1], b1[:,::1], f8[:,::1], f8[::1], f8[::1], f8[::1], "
    "f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], f8[::1], i8[::1], f8[::1], f8[::1], f8[::1], f8[:,::1], "
    "f8[:,::1], f8[:,::1])"
)
def walk(
    number: Array, starts: Array, must_kw: Array, wanted_kw: Array, solar_kw: Array, day_frac: Array,
    attended: Array, may_charge: Array, stored_kwh: Array, ready_h: Array, battery_ready_h: Array,
    someone: Array, fuel_flows: Array, set_there: Array, islands: Array, start_fails: Array, life_h: Array,
    inverter_life_h: Array, output_kw: Array, fuel_per_h: Array, start_weight: Array, event_h: Array,
    stops_frac: Array, late_frac: Array, fade_frac: Array, lasts_h: Array, mark_step: Array, ends_h: Array,
    longest_h: Array, left_kwh: Array, totals: Array, trace: Array, by_step: Array,
) -> None:  # fmt: skip
    """Walk outages from `starts`, writing results into the arrays named last.

    Per step of the year (n,): must_kw, wanted_kw, solar_kw, attended, may_charge. Per step of the event
    (K,): day_frac (share of the solar there), event_h (expected event hours in it), stops_frac (share of
    events that end in it), late_frac (that, times how far into it), fade_frac (how much fewer there are late
    in it, over their mean). Per start (S,): stored_kwh, ready_h and battery_ready_h (hours until the set,
    the battery can serve; inf: never), someone, fuel_flows, set_there, islands, start_fails (S, A), life_h
    (S, R) run hours to each failure, inverter_life_h, start_weight, lasts_h (hours of a drawn event; below
    0: all durations, by event_h), mark_step. Out: ends_h (S,) hours until the first must-run gap beyond its
    tolerance (K steps where none); longest_h (S,) the longest must-run gap in the first HARD_H hours;
    left_kwh (S,) stored at the end of mark_step; totals (S, TOTALS) weighted by event_h and start_weight;
    trace (K, TRACES) of the last start; by_step (K, 2 x TOTALS), weighted by start_weight: what a step takes,
    then the same times (0.5 - its place in it), of what is drawn what it adds (both may have no rows).
    """
    n, steps, dt = must_kw.size, event_h.size, number[STEP_H]
    full, floor, restart = number[FULL_KWH], number[FLOOR_KWH], number[RESTART_KWH]
    wanted_at, start_at, stop_at = number[WANTED_KWH], number[START_KWH], number[STOP_KWH]
    charge_eff, discharge_eff = number[CHARGE_EFF], number[DISCHARGE_EFF]
    has_battery, has_set = number[HAS_BATTERY] > 0, number[HAS_SET] > 0
    piped, night_fuel = number[PIPED] > 0, number[NIGHT_FUEL] > 0
    set_kw, tank_size, holds = number[SET_KW], number[TANK], max(number[TANK], number[ON_SITE])
    run_h, cycle_h, battery_kw, idle_kw = number[RUN_H], number[CYCLE_H], number[BATTERY_KW], number[IDLE_KW]
    parallel, beside_set = number[PARALLEL] > 0, number[SOLAR_BESIDE_SET] > 0
    solar_charges, by_hand, traced = number[SOLAR_CHARGES] > 0, number[BY_HAND] > 0, trace.shape[0] > 0
    tolerates_h, hard_h, latched = number[TOLERATES_H], number[HARD_H], number[LATCHED] > 0
    by_itself = has_set and not has_battery and not run_h < cycle_h and not traced and by_step.size == 0
    for_good = not has_set and not solar_charges and not traced and by_step.size == 0 and not latched
    for i in range(starts.size):
        stored = min(max(stored_kwh[i], 0.0), full)
        began_kwh, longest, running, dark = stored, 0.0, False, False
        inverter_left = inverter_life_h[i] if islands[i] else 0.0
        tank, stock = min(tank_size, number[ON_SITE]), max(0.0, number[ON_SITE] - tank_size)
        next_supply_h = number[RESUPPLY_DELAY_H]
        broken_until, pause_until = 0.0 if set_there[i] else number[REPAIR_H], 0.0
        hand_until = ready_h[i]  # whoever fetched or refuelled the set also starts it
        attempt, failures, life_left, gap_h, gap_from, ended = 0, 0, life_h[i, 0], 0.0, 0.0, -1.0
        here, flows, ready, battery_ready = someone[i], fuel_flows[i], ready_h[i], battery_ready_h[i]
        chance, lasts, mark = start_weight[i], lasts_h[i], mark_step[i]
        totals[i] = 0.0
        j = starts[i] - 1
        for k in range(steps):
            if lasts >= 0.0 and k * dt >= lasts:
                break
            j = j + 1 if j + 1 < n else 0
            must, wanted, solar = must_kw[j], wanted_kw[j], solar_kw[j] * day_frac[k]
            home, before_kwh = here and attended[j], stored
            t, end, span = k * dt, k * dt + dt, dt
            weight, fade = chance * event_h[k] if dt == 1.0 else chance * event_h[k] / dt, fade_frac[k]
            if lasts >= 0.0:  # a drawn event ends inside its last step
                weight, fade, end, span = 1.0, 0.0, min(end, lasts), min(dt, lasts - t)
            out_h = wanted_out_kwh = ran_h = fuel = refuels = 0.0  # sums of this step
            sum_set = sum_solar = sum_battery = sum_failures = 0.0
            out_m = wanted_m = ran_m = fuel_m = set_m = solar_m = 0.0  # the same, times (0.5 - place)
            if has_set and not piped:
                while number[RESUPPLY] > 0 and next_supply_h <= t + EPS and here:
                    stock += min(number[RESUPPLY], max(0.0, holds - tank - stock))  # as much as fits
                    next_supply_h += number[RESUPPLY_EVERY_H]
                last_hour_home = home and not attended[j + 1 if j + 1 < n else 0] and not night_fuel
                if last_hour_home and stock > 0 and tank < 0.5 * tank_size and t >= ready:
                    moved = min(tank_size - tank, stock)  # filled up before the night
                    tank, stock = tank + moved, stock - moved
                    refuels += 1.0
                    pause_until = hand_until = t + number[REFUEL_GAP_H]

            told, used_wanted, turns = dark and for_good, 0.0, 0  # told: nothing can happen in this step
            if told and must > 0:
                gap_from = gap_from if gap_h > 0.0 else t
                gap_h += span
                longest = gap_h if gap_h > longest and t < hard_h else longest
                ended = gap_from if ended < 0 and gap_h > tolerates_h + EPS else ended
                totals[i, MUST_OUT_H] += weight * span
                totals[i, MUST_OUT_KWH] += weight * (must * span)
            if by_itself and running and t >= pause_until - EPS and tank > EPS and must <= set_kw + EPS:
                used_solar = solar if beside_set else 0.0
                used_wanted = min(wanted, max(0.0, set_kw - must + used_solar))
                used_solar = min(used_solar, must + used_wanted)
                out = min(set_kw, must + used_wanted - used_solar)
                burn = _burn(out, output_kw, fuel_per_h)
                told = life_left - span > EPS and (piped or tank >= FAR * burn * span)
                if told:
                    tank, life_left = tank - (0.0 if piped else burn * span), life_left - span
                    gap_h = 0.0 if must > 0 else gap_h
                    totals[i, SET_RUN_H] += weight * span
                    totals[i, FUEL] += weight * (burn * span)
                    totals[i, SET_KWH] += weight * (out * span)
                    totals[i, SOLAR_KWH] += weight * (used_solar * span)
            if told:
                totals[i, WANTED_OUT_KWH] += weight * ((wanted - used_wanted) * span)
                totals[i, MUST_KWH] += weight * (must * span)
                totals[i, EVENT_H] += weight * span
                totals[i, DRAWN_KWH] += chance * stops_frac[k] * max(0.0, began_kwh - stored)
                left_kwh[i] = stored if k == mark else left_kwh[i]
                continue
            while end - t > EPS and turns < 200:
                turns += 1
                left = end - t
                # can the set run now, and until when does that hold?
                can = False
                if has_set and flows:
                    if t < ready - EPS:
                        left = min(left, ready - t)
                    elif t < broken_until - EPS:
                        left = min(left, broken_until - t)
                    elif t < pause_until - EPS:
                        left = min(left, pause_until - t)
                    else:
                        laps = (t - ready) / cycle_h if run_h < cycle_h else 0.0
                        place = (laps - np.floor(laps)) * cycle_h
                        place = 0.0 if cycle_h - place < EPS else place
                        if place < run_h - EPS:
                            can = piped or tank > EPS
                            if not can and stock > 0 and (home or (night_fuel and here)):
                                tank, stock = min(tank_size, stock), max(0.0, stock - tank_size)
                                refuels += 1.0
                                pause_until = hand_until = t + number[REFUEL_GAP_H]
                                continue
                            if can and run_h < cycle_h:
                                left = min(left, run_h - place)
                        else:
                            left = min(left, cycle_h - place)
                battery_up = has_battery and inverter_left > EPS
                if battery_up and t < battery_ready - EPS:
                    left = min(left, battery_ready - t)
                    battery_up = False
                strong = must <= battery_kw + EPS
                low = stored < stop_at - EPS if running else stored <= start_at + EPS
                want = can and (low or not battery_up or dark or not strong)
                want = want and (running or not by_hand or home or t <= hand_until + EPS)
                if want and not running:
                    attempt += 1
                    if start_fails[i, (attempt - 1) % start_fails.shape[1]]:
                        broken_until = t + number[REPAIR_H]
                        sum_failures += 1.0
                        continue
                running, served = want, False
                used_wanted = used_solar = out = burn = rate = 0.0  # rate: kWh into the store per hour
                if running:
                    beside = solar if beside_set else 0.0
                    helper = battery_kw if parallel and battery_up and stored > floor + EPS else 0.0
                    idle = idle_kw if battery_up else 0.0
                    load = 0.0
                    if must <= set_kw + helper + EPS:
                        served = True
                        used_wanted = min(wanted, max(0.0, set_kw - must - idle + beside))
                        load = must + used_wanted + idle
                    used_solar = min(beside, load)
                    out = load - used_solar
                    if out > set_kw:
                        if helper > 0:
                            rate = -(out - set_kw) / discharge_eff
                        out = set_kw
                    elif battery_up and stored < full - EPS and may_charge[j]:
                        charge = min(number[SET_CHARGE_KW], max(0.0, number[SET_BEST_KW] - out))
                        rate = charge * charge_eff
                        out += charge
                    burn = _burn(out, output_kw, fuel_per_h)
                    if burn > 0 and not piped and tank < FAR * burn * left:
                        left = min(left, tank / burn)
                    left = min(left, life_left)
                    if rate > 0:
                        left = min(left, max(EPS, (min(full, max(stop_at, stored)) - stored) / rate))
                    elif rate < 0:
                        left = min(left, max(EPS, (stored - floor) / -rate))
                elif battery_up and not dark and strong:
                    spare = max(0.0, solar - must - idle_kw)
                    used_wanted = min(wanted, spare)
                    if stored > wanted_at + EPS:
                        used_wanted = min(wanted, battery_kw - must)
                    net = must + used_wanted + idle_kw - solar
                    served = net <= 0 or stored > floor + EPS
                    if not served:
                        dark = True
                        continue
                    if net > 0:
                        rate = -net / discharge_eff
                        left = min(left, (stored - floor) / -rate)
                        if used_wanted > spare + EPS and stored - wanted_at < FAR * -rate * left:
                            left = min(left, max(EPS, (stored - wanted_at) / -rate))
                        if can and stored > start_at + EPS and stored - start_at < FAR * -rate * left:
                            left = min(left, max(EPS, (stored - start_at) / -rate))
                        used_solar = solar
                    else:
                        used_solar = must + used_wanted + idle_kw
                        if stored < full - EPS and may_charge[j]:
                            rate = min(-net, number[SOLAR_CHARGE_KW]) * charge_eff
                            used_solar += rate / charge_eff
                            if rate > 0 and full - stored < FAR * rate * left:
                                left = min(left, max(EPS, (full - stored) / rate))
                    left = min(left, inverter_left)
                elif battery_up and solar_charges:
                    # dark or overloaded: solar alone may bring it back
                    if stored < full - EPS and may_charge[j]:
                        rate = min(solar, number[SOLAR_CHARGE_KW]) * charge_eff
                        used_solar = rate / charge_eff
                    if rate > 0:
                        left = min(left, max(EPS, ((restart if stored < restart else full) - stored) / rate))
                    if dark and stored >= restart - EPS and strong:
                        dark = False
                        continue
                # the hours until the next happening, and how many events are still there to meet them
                stored = min(full, max(0.0, stored + rate * left))
                if left < dt:
                    early = left * (0.5 - (t - k * dt + 0.5 * left) / dt)
                    solar_m += used_solar * early
                    wanted_m += (wanted - used_wanted) * early
                    fuel_m, set_m = fuel_m + burn * early, set_m + out * early
                    ran_m += early if running else 0.0
                    out_m += early if must > 0 and not served else 0.0
                if running:
                    tank, life_left = tank - (0.0 if piped else burn * left), life_left - left
                    ran_h, fuel, sum_set = ran_h + left, fuel + burn * left, sum_set + out * left
                    dark = dark and stored < restart - EPS
                    if life_left <= EPS:
                        running, failures, sum_failures = False, failures + 1, sum_failures + 1.0
                        life_left = life_h[i, failures % life_h.shape[1]]
                        broken_until = t + left + number[REPAIR_H]
                elif battery_up and not dark and served:
                    inverter_left -= left
                sum_solar += used_solar * left
                sum_battery += (-rate * discharge_eff if rate < 0 else -rate / charge_eff) * left
                wanted_out_kwh += (wanted - used_wanted) * left
                if not served and must > 0:
                    gap_from = gap_from if gap_h > 0.0 else t
                    gap_h += left
                    longest = gap_h if gap_h > longest and t < hard_h else longest
                    ended = gap_from if ended < 0 and gap_h > tolerates_h + EPS else ended
                    out_h += left
                elif served and must > 0:
                    gap_h = 0.0
                t += left
            if end - t > EPS:  # hundreds of happenings in one step: what is left counts as not served
                out_h += end - t if must > 0 else 0.0
                wanted_out_kwh += wanted * (end - t)
            drawn_kwh = max(0.0, began_kwh - before_kwh)  # by the step's begin, and what its end adds
            more_kwh = max(0.0, began_kwh - stored) - drawn_kwh
            must_kwh, out_kwh = must * span, must * out_h
            now = out_h, out_kwh, wanted_out_kwh, ran_h, fuel, refuels, sum_set, sum_solar, must_kwh, span
            shift = out_m, must * out_m, wanted_m, ran_m, fuel_m, 0.0, set_m, solar_m, 0.0, 0.0
            for c in range(DRAWN_KWH):
                totals[i, c] += weight * (now[c] + fade * shift[c])
            totals[i, DRAWN_KWH] += chance * (stops_frac[k] * drawn_kwh + late_frac[k] * more_kwh)
            left_kwh[i] = stored if k == mark else left_kwh[i]
            if by_step.size > 0:
                for c in range(DRAWN_KWH):
                    by_step[k, c] += chance * now[c]
                    by_step[k, TOTALS + c] += chance * shift[c]
                by_step[k, DRAWN_KWH] += chance * drawn_kwh
                by_step[k, TOTALS + DRAWN_KWH] += chance * more_kwh
            if traced:
                means = must, wanted - wanted_out_kwh / dt, sum_solar / dt, sum_battery / dt, sum_set / dt
                states = out_kwh / dt, stored, tank + stock, refuels, sum_failures
                for c in range(5):
                    trace[k, c], trace[k, 5 + c] = means[c], states[c]
            if ended >= 0.0 and latched:
                break  # only the first moment was asked
        ends_h[i] = ended if ended >= 0 else steps * dt
        longest_h[i] = min(longest, hard_h)
