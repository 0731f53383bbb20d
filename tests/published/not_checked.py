"""What no published case reaches, in plain words. Whoever adds a case takes the sentence out."""

NOT_CHECKED: tuple[str, ...] = (
    "A whole answer. No source prints a house, its outages and what each option would have kept on: the "
    "hours kept on, the unserved energy and the ranking of options are held only to plain step loops, to "
    "laws and to arithmetic written out in the tests, never to a measured house.",
    "The outages of the examples. Their durations and how often major events come are assumptions, marked "
    "invented. The published tables give yearly means of whole areas, not how long one feeder is out.",
    "Nitrogen oxides and carbon monoxide of a set at part load. The rows below check a legal limit and an "
    "average factor; nobody's measurements at low load, where a home set mostly runs, are compared.",
    "Time to failure of small and portable sets. The published figures are of large, mostly diesel sets "
    "that are cared for or not; below 40 kW they are used out of their scope, and the kit says so.",
    "Ageing of a battery pack in a house. Two papers on single cells are compared with each other and "
    "with the kit; packs with their electronics, uneven cells and their place in a cold garage are not, "
    "nor is a warranty.",
    "Efficiency, idle draw, surge and charge limits of any battery or inverter: these are inputs from a "
    "data sheet, and no measured charge and discharge is replayed.",
    "Starting of modern motors. The code letters give a range of standstill current; inverter-driven "
    "compressors, soft starters and how a given set or inverter takes the dip are rules of thumb.",
    "Dwelling loads beyond four examples of the 2005 code. Later editions changed steps of the method; "
    "sections marked from memory (below) were not opened again, and local amendments are not known at "
    "all.",
    "Distances, storage limits and busbar rules of codes. They are from memory or second-hand; every such "
    "finding ends with: local code and a licensed person decide.",
    "Carbon monoxide in a real garage. One closed room with no air change is checked against arithmetic; "
    "it is a warning, never a measure of safety.",
    "Solar on a roof. Position, angle and losses are checked and the yield lies in the usual range; no "
    "metered array, snow or shade of a real site is replayed, and the typical year is not the year of the "
    "study.",
    "Bills of your utility. A few printed bills are met to the cent; ratchets, holidays, seasons and "
    "riders of other plans are worked by hand in the tests only. Prices in the examples go out of date.",
    "What an outage is worth to a household. The published damage figures are of 2013, from memory, and "
    "of an average customer; no row below checks them.",
    "Prices of equipment, permits, service and fuel, and how they rise. They are inputs; no case says "
    "what they will be.",
    "What making the equipment emitted: it is taken from the study, and no published figure is compared.",
    "Agreement with general libraries (position of the sun, optimum dispatch by linear programming, "
    "irradiance on an array): these are tests of the project and not rows here, for they print no page to "
    "cite.",
)
