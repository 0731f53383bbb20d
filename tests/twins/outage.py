"""An outage told minute by minute, in the words of the trade. Imports nothing from kit."""

from itertools import pairwise

MINUTE_H = 1.0 / 60.0


def burn_per_h(points, output_kw):
    """Fuel an hour on straight lines between (kW, fuel) points, held at the ends."""
    if output_kw <= points[0][0]:
        return points[0][1]
    for (low_kw, low), (high_kw, high) in pairwise(points):
        if output_kw <= high_kw:
            return low + (high - low) * (output_kw - low_kw) / (high_kw - low_kw)
    return points[-1][1]


def follow(house, machines, start, hours):
    """One outage from the step `start`: a record of sums, and when the must-run loads first fell out.

    house: must_kw, wanted_kw, solar_kw, attended (lists of a year), step_h.
    machines: battery (dict or None), generator (dict or None), tolerates_h, solar_charges,
    solar_beside_set, resupply_delay_h.
    """
    battery, generator = machines.get("battery"), machines.get("generator")
    year = len(house["must_kw"])
    minutes_a_step = round(house["step_h"] * 60)
    stored = battery["stored_kwh"] if battery else 0.0
    dark = running = False
    tank = min(generator["tank"], generator["on_site"]) if generator else 0.0
    stock = generator["on_site"] - tank if generator else 0.0
    next_supply_h = machines["resupply_delay_h"]
    broken_until_h = pause_until_h = 0.0
    hand_until_h = generator["ready_h"] if generator else 0.0
    life_left_h = generator["life_h"] if generator else 0.0
    gap_h, gap_from_h, ended_h = 0.0, 0.0, None
    told = dict(out_h=0.0, out_kwh=0.0, wanted_out_kwh=0.0, run_h=0.0, fuel=0.0, refuels=0, set_kwh=0.0)
    for minute in range(round(hours * 60)):
        now_h = minute * MINUTE_H
        step = (start + minute // minutes_a_step) % year
        must, wanted, solar = house["must_kw"][step], house["wanted_kw"][step], house["solar_kw"][step]
        home = house["attended"][step]
        if minute % minutes_a_step == 0 and generator:
            while generator["resupply"] > 0 and next_supply_h <= now_h + 1e-9:
                room = max(generator["tank"], generator["on_site"]) - tank - stock
                stock += min(generator["resupply"], max(0.0, room))
                next_supply_h += generator["resupply_every_h"]
            going_to_bed = home and not house["attended"][(step + 1) % year]
            if going_to_bed and stock > 0 and tank < generator["tank"] / 2 and now_h >= generator["ready_h"]:
                moved = min(generator["tank"] - tank, stock)
                tank, stock = tank + moved, stock - moved
                told["refuels"] += 1
                pause_until_h = hand_until_h = now_h + generator["refuel_gap_h"]
        can = False
        if generator and now_h >= max(generator["ready_h"], broken_until_h, pause_until_h) - 1e-9:
            place_h = (now_h - generator["ready_h"] + 1e-9) % generator["cycle_h"]
            if place_h < generator["run_h"]:
                if tank <= 1e-9 and stock > 0 and home:
                    tank = min(generator["tank"], stock)
                    stock -= tank
                    told["refuels"] += 1
                    pause_until_h = hand_until_h = now_h + generator["refuel_gap_h"]
                can = tank > 1e-9 and now_h >= pause_until_h - 1e-9
        up = battery is not None
        strong = up and must <= battery["kw"]
        wish = can and (
            not up
            or dark
            or not strong
            or (running and stored < battery["stop_kwh"])
            or (not running and stored <= battery["start_kwh"])
        )
        if wish and not running and generator["by_hand"] and not home and now_h > hand_until_h + 1e-9:
            wish = False  # nobody up to start it
        running = wish
        served, used_wanted, change, out = False, 0.0, 0.0, 0.0
        if running:
            beside = solar if machines["solar_beside_set"] else 0.0
            idle = battery["idle_kw"] if up else 0.0
            load = 0.0
            if must <= generator["kw"]:
                served = True
                used_wanted = min(wanted, max(0.0, generator["kw"] - must - idle + beside))
                load = must + used_wanted + idle
            out = min(max(0.0, load - beside), generator["kw"])
            if up and stored < battery["full_kwh"]:
                charge = min(battery["set_charge_kw"], max(0.0, generator["best_kw"] - out))
                change = charge * battery["charge_eff"]
                out += charge
            burnt = min(tank, burn_per_h(generator["points"], out) * MINUTE_H)
            tank -= burnt
            told["fuel"] += burnt
            told["run_h"] += MINUTE_H
            told["set_kwh"] += out * MINUTE_H
            life_left_h -= MINUTE_H
            if life_left_h <= 0:
                broken_until_h = now_h + MINUTE_H + generator["repair_h"]
                life_left_h = generator["life_h"]
                running = False
        elif up and not dark and strong:
            spare = max(0.0, solar - must - battery["idle_kw"])
            used_wanted = min(wanted, spare)
            if stored > battery["wanted_kwh"]:
                used_wanted = min(wanted, battery["kw"] - must)
            net = must + used_wanted + battery["idle_kw"] - solar
            if net <= 0:
                served = True
                change = min(-net, battery["solar_charge_kw"]) * battery["charge_eff"]
            elif stored > battery["floor_kwh"] + 1e-9:
                served = True
                change = -net / battery["discharge_eff"]
            else:
                dark = True
        elif up and machines["solar_charges"]:
            change = min(solar, battery["solar_charge_kw"]) * battery["charge_eff"]
        if up:
            stored = min(battery["full_kwh"], stored + change * MINUTE_H)
            if dark and stored >= battery["restart_kwh"]:
                dark = False
        told["wanted_out_kwh"] += (wanted - used_wanted) * MINUTE_H
        if must > 0 and not served:
            if gap_h == 0.0:
                gap_from_h = now_h
            gap_h += MINUTE_H
            told["out_h"] += MINUTE_H
            told["out_kwh"] += must * MINUTE_H
            if ended_h is None and gap_h > machines["tolerates_h"] + MINUTE_H / 2:
                ended_h = gap_from_h
        elif served and must > 0:
            gap_h = 0.0
    told["ended_h"] = hours if ended_h is None else ended_h
    told["stored_kwh"] = stored
    return told
