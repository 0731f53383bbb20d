"""A year of charging and discharging by the clock, hour by hour. Imports nothing from kit."""


def by_the_clock(house, battery, charge_hours, discharge_hours, may_charge, begin_kwh):
    """Lists of import, export, stored at the start, charged and discharged kWh of each step; the end's store.

    house: load_kwh (idle draw in it), behind_kwh, solar_kwh of each step. battery: full_kwh,
    reserve_kwh (one, or a list of each step's), grid_charges (allowed at all), grid_in_kwh, solar_in_kwh,
    out_kwh (AC, a step), charge_eff, discharge_eff.
    """
    told = dict(bought=[], sold=[], stored=[], charged=[], discharged=[])
    stored = begin_kwh
    for k, load in enumerate(house["load_kwh"]):
        told["stored"].append(stored)
        surplus = max(0.0, house["solar_kwh"][k] - load)
        shortage = max(0.0, load - house["solar_kwh"][k])
        space = max(0.0, battery["full_kwh"] - stored) / battery["charge_eff"]
        charged = discharged = 0.0
        held = battery["reserve_kwh"]
        held = held[k] if isinstance(held, list) else held
        if may_charge[k]:
            charged = min(surplus, battery["solar_in_kwh"], space)
            if charge_hours[k]:
                charged = max(charged, min(battery["grid_in_kwh"], space))
            if battery["grid_charges"] and held - stored > 1e-9:
                missing = (held - stored) / battery["charge_eff"]
                charged = max(charged, min(battery["grid_in_kwh"], space, missing))
        if discharge_hours[k] and charged == 0.0 and shortage > 0.0:
            spare = max(0.0, stored - held) * battery["discharge_eff"]
            discharged = min(shortage, house["behind_kwh"][k], battery["out_kwh"], spare)
        stored = stored + charged * battery["charge_eff"] - discharged / battery["discharge_eff"]
        meter = shortage - surplus + charged - discharged
        told["bought"].append(max(0.0, meter))
        told["sold"].append(max(0.0, -meter))
        told["charged"].append(charged)
        told["discharged"].append(discharged)
    return told, stored
