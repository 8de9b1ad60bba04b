"""Two invented designs: turns, sizes and what follows from them by the textbook."""

import math

RHO_20 = 0.0172414  # copper, ohm*mm^2/m at 20 °C
MU_0 = 4e-7 * math.pi


class Design:
    """What both have in common; windings from the highest voltage down."""

    windings = ()
    phases = ()
    pairs = {}  # name: (upper, lower, power)

    def __init__(self):
        self.three = len(self.phases) == 3
        upper = self.windings[0]
        self.core_mass = 7650 * self.core_section * 1e-6 * self.core_length
        self.no_load_loss = self.core_mass * self.specific_loss * self.building_factor
        self.turn_voltage = sum(self.coil_voltage(w) / self.circuit_turns(w) for w in self.windings) / len(self.windings)
        self.flux_density = self.turn_voltage / (
            math.pi * math.sqrt(2) * self.frequency * self.core_section * 1e-6)
        self.resistance_20 = {
            w: RHO_20 * math.pi * self.mean_diameter[w] / 1000 * self.turns[w] / self.section[w]
            for w in self.windings
        }
        self.tap_turn_20 = self.resistance_20[upper] / self.turns[upper]
        self.current = {w: self.line_current(self.power[w], w) for w in self.windings}

    # ------------------------------------------------------------------------------- windings

    def copper(self, temperature, reference=20.0):
        """Factor from a resistance at `reference` to one at `temperature`."""
        return (self.constant + temperature) / (self.constant + reference)

    def coil_voltage(self, w):
        return self.voltage[w] / (math.sqrt(3) if w in self.star and self.three else 1)

    def circuit_turns(self, w):
        extra = self.turns[self.windings[1]] if self.auto and w == self.windings[0] else 0
        return self.turns[w] + extra

    def line_current(self, power, w):
        return power / (self.voltage[w] * (math.sqrt(3) if self.three else 1))

    def steps(self, tap):
        return (self.principal - tap) * (1 if self.first_position == "most-turns" else -1)

    def turns_at(self, tap):
        return self.circuit_turns(self.tapped) + self.steps(tap) * self.tap_turns

    def ratio_at(self, pair, tap):
        """Whole turns of both windings on a tapping."""
        upper, lower, _ = self.pairs[pair]
        turns = {w: self.circuit_turns(w) for w in (upper, lower)}
        if self.tapped in turns:
            turns[self.tapped] = self.turns_at(tap)
        return turns[upper] / turns[lower]

    def taps_of(self, pair):
        upper, lower, _ = self.pairs[pair]
        return range(1, self.taps + 1) if self.tapped in (upper, lower) else (self.principal,)

    # ------------------------------------------------------------------------------- losses and impedance

    def coil_currents(self, pair):
        """In the coils of each winding when the power of the pair passes."""
        upper, lower, power = self.pairs[pair]
        line = {w: self.line_current(power, w) for w in (upper, lower)}
        if self.auto and set((upper, lower)) == set(self.windings[:2]):
            first, second = self.windings[:2]
            return {first: line[first], second: line[second] - line[first]}
        coils = {}
        for w in (upper, lower):
            coils[w] = line[w] if w in self.star or not self.three else line[w] / math.sqrt(3)
            if self.auto and w == self.windings[0]:
                coils[self.windings[1]] = coils[w]
        return coils

    def ohmic_20(self, pair):
        return sum(len(self.phases) * i**2 * self.resistance_20[w] for w, i in self.coil_currents(pair).items())

    def loss_at(self, pair, temperature, ohmic_factor=1.006):
        """Load loss of the pair: ohmic part with leads, and additional part."""
        ohmic = self.ohmic_20(pair) * ohmic_factor
        c = self.copper(temperature)
        return ohmic * c + self.stray_share * ohmic / c

    def leakage(self, inner, outer, turns, current, voltage):
        """Per unit, from builds and duct, with Rogowski's factor for the height; all diameters in mm."""
        (a, b), (c, e) = self.diameters[inner], self.diameters[outer]
        t1, tg, t2 = (b - a) / 2000, (c - b) / 2000, (e - c) / 2000
        d1, dg, d2 = (a + b) / 2000, (b + c) / 2000, (c + e) / 2000
        area = t1 * d1 / 3 + tg * dg + t2 * d2 / 3
        width, height = t1 + tg + t2, self.height / 1000
        x = math.pi * height / width
        equivalent = height / (1 - (1 - math.exp(-x)) / x)
        ohms = 2 * math.pi * self.frequency * MU_0 * math.pi * turns**2 * area / equivalent
        return ohms * current / voltage


class SeparateWindings(Design):
    """40 MVA, 110/20 kV, 50 Hz, YNd11, +-8 x 1.25 % in HV, after IEC."""

    title = "40 MVA 110/20 kV"
    group = "YNd11"
    windings = ("HV", "LV")
    phases = ("U", "V", "W")
    pairs = {"HV-LV": ("HV", "LV", 40e6)}
    star = ("HV",)
    auto = False
    frequency = 50.0
    constant = 235.0
    reference = 75
    voltage = {"HV": 110e3, "LV": 20e3}
    power = {"HV": 40e6, "LV": 40e6}
    highest = {"HV": 123, "LV": 24}
    turns = {"HV": 880, "LV": 277}
    taps, principal, tap_step, tap_turns = 17, 9, 1.25, 11
    tapped, first_position, tap_changer, arrangement, tapping_end = "HV", "most-turns", "on-load", "reversing", "neutral-end"
    regulating_turns = 88
    regulating_resistance_turn = RHO_20 * math.pi * 1.025 / 80.0
    section = {"HV": 70.0, "LV": 222.0}  # mm^2
    diameters = {"HV": (779, 919), "LV": (565, 681)}  # mm
    mean_diameter = {"HV": 849.0, "LV": 623.0}
    main_duct = ("LV", "HV")  # inner, outer
    height = 1612.0  # mm under pressing force
    free_height = {"HV": 1640, "LV": 1636}
    pressing = {"HV": 168, "LV": 144}  # kN
    core_form = "three-limb"
    core_diameter, core_section, core_stack = 530.0, 193500.0, 498.0
    core_length = 11.7556  # m of limbs and yokes
    specific_loss, building_factor, steel_limit, steel_grade = 0.92, 1.17, "1.00", "M100-23P"
    stray_share = 0.16
    ducts = {"core-LV": (17.5, "+1.5/-1 mm"), "LV-HV": (49, "+- 1 mm"), "HV-regulating": (42, "+- 1 mm")}
    gaps = {"HV-lead-to-tank": 180, "LV-lead-to-tank": 60, "winding-to-tank": 140, "yoke-to-cover": 120}
    paths = ("HV-to-rest", "LV-to-rest", "both-to-earth")
    farads = {"HV-to-rest": 3120, "LV-to-rest": 8450, "both-to-earth": 7630}
    insulation_mass, clamping_force, clamping_jacks, clamping_jack = 4.1, 312, 12, 50.0
    bushings = ("1U", "1V", "1W", "1N", "2U", "2V", "2W")
    condenser = ("1U", "1V", "1W")
    transformers = {"T1U": (300, 1), "T1V": (300, 1), "T1W": (300, 1), "T2N": (1200, 1)}
    air_gaps = {"1U-to-1V": 1100, "1W-to-conservator": 1100, "2U-to-radiators": 220}
    altitude, wall = 320, 2.4
    accessories = ("gas-relay", "oil-surge-relay", "radiators", "conservator", "breather", "relief-device", "oil-level-gauge",
                   "tap-changer-drive", "oil-thermometer", "winding-thermometer", "marshalling-box", "cable-trays", "fans")
    cooling = "ONAF"
    gas_volume, oil_mass, fill_gas = 24, 18.6, "yes"
    transport_mass, coldest, hottest = 46.5, -15, 45
    test_winding = "LV"
    applied = {"HV": 140, "LV": 50}
    impulse = {"HV": 550, "LV": 125}
    chopped = {}
    switching = None
    terminals = ("1U", "1V", "1W")
    special = ("sound-test", "zero-sequence-test")
    curves = ("HV-U", "HV-V", "HV-W", "LV-U", "LV-V", "LV-W")
    recorders = {"front": 7714, "rear": 7719}
    crates = {"C1": ("conservator with breather", 1450), "C2": ("radiators 1 to 6", 5200), "C3": ("radiators 7 to 12", 5200),
              "C4": ("HV bushings", 980), "C5": ("fans, valves, pipes, gaskets", 760)}
    removed = 41
    oil_exponent, winding_exponent = 0.9, 1.6
    guaranteed = {"no-load-loss": "19.5 kW", "no-load-current": "0.30 %", "total-loss": "204.5 kW", "sound-level": "66 dB(A)"}
    guaranteed_load = {"HV-LV": "185 kW"}

    def __init__(self):
        super().__init__()
        self.impedance = {"HV-LV": self.leakage("LV", "HV", 277, 40e6 / 3 / 20e3, 20e3)}
        self.end_impedance = {("HV-LV", "first"): self.impedance["HV-LV"] * 1.045, ("HV-LV", "last"): self.impedance["HV-LV"] * 0.965}
        self.tap_turn_20 = self.regulating_resistance_turn


class AutoConnected(Design):
    """One unit of a bank: 100 MVA, 345/138 kV auto-connected, with a tertiary of 13.8 kV; 60 Hz, after IEEE."""

    title = "single-phase 100 MVA 345/138 kV auto-connected with tertiary"
    group = "Ia0i0"
    windings = ("HV", "LV", "TV")
    phases = ("A",)
    pairs = {"HV-LV": ("HV", "LV", 100e6), "HV-TV": ("HV", "TV", 30e6), "LV-TV": ("LV", "TV", 30e6)}
    star = ()
    auto = True
    frequency = 60.0
    constant = 234.5
    reference = 85
    voltage = {"HV": 199186.0, "LV": 79674.0, "TV": 13800.0}
    power = {"HV": 100e6, "LV": 100e6, "TV": 30e6}
    highest = {"HV": 362, "LV": 145, "TV": 15}
    turns = {"HV": 598, "LV": 398, "TV": 69}
    taps, principal, tap_step, tap_turns = 5, 3, 2.5, 25
    tapped, first_position, tap_changer, arrangement, tapping_end = "HV", "most-turns", "off-circuit", "linear", "line-end"
    regulating_turns = 100
    section = {"HV": 170.0, "LV": 250.0, "TV": 720.0}
    diameters = {"TV": (870, 1010), "LV": (1130, 1350), "HV": (1500, 1740)}
    mean_diameter = {"HV": 1620.0, "LV": 1240.0, "TV": 940.0}
    main_duct = ("LV", "HV")
    height = 2100.0
    free_height = {"HV": 2136, "LV": 2134, "TV": 2128}
    pressing = {"HV": 620, "LV": 560, "TV": 330}
    core_form = "single-phase"
    core_diameter, core_section, core_stack = 820.0, 463700.0, 778.0
    core_length = 16.4
    specific_loss, building_factor, steel_limit, steel_grade = 1.19, 1.14, "1.30", None
    stray_share = 0.19
    ducts = {"core-TV": (25.0, "+1.5/-1 mm"), "TV-LV": (60, "+- 1.5 mm"), "LV-HV": (75, "+- 1.5 mm")}
    gaps = {"HV-lead-to-tank": 620, "LV-lead-to-tank": 290, "TV-lead-to-tank": 60, "winding-to-tank": 380, "yoke-to-cover": 200}
    paths = ("HV-LV-to-rest", "TV-to-rest", "both-to-earth")
    farads = {"HV-LV-to-rest": 6240, "TV-to-rest": 13900, "both-to-earth": 12650}
    insulation_mass, clamping_force, clamping_jacks, clamping_jack = 9.4, 1240, 16, 80.0
    bushings = ("H1", "X1", "H0X0", "Y1", "Y2")
    condenser = ("H1", "X1")
    transformers = {"CT-H1": (1200, 5), "CT-X1": (2000, 5), "CT-H0X0": (2000, 5)}
    air_gaps = {"H1-to-conservator": 2350, "H1-to-X1": 2350, "X1-to-cooler": 1300, "Y1-to-Y2": 220}
    altitude, wall = 320, 2.9
    accessories = ("gas-relay", "radiators", "conservator", "breather", "relief-device", "oil-level-gauge", "oil-thermometer",
                   "winding-thermometer", "marshalling-box", "cable-trays", "fans", "pumps")
    cooling = "OFAF"
    gas_volume, oil_mass, fill_gas = 58, 46.0, "yes"
    transport_mass, coldest, hottest = 121.0, -30, 45
    test_winding = "TV"
    applied = {"HV": 34, "LV": 34, "TV": 34}
    impulse = {"HV": 1050, "LV": 650, "TV": 110}
    chopped = {"HV": 1155, "LV": 715, "TV": 120}
    switching = 870
    terminals = ("H1", "X1")
    special = ("sound-test", "harmonics-test", "auxiliary-power-test")
    curves = ("H1-H0X0", "X1-H0X0", "Y1-Y2", "H1-X1")
    recorders = {"front": 7802, "rear": 7803}
    crates = {"C1": ("conservator with breather", 2300), "C2": ("coolers 1 to 3 with pumps", 7800), "C3": ("bushing H1", 1350),
              "C4": ("bushings X1, H0X0, Y1, Y2", 1250), "C5": ("fans, valves, pipes, gaskets", 1480)}
    removed = 57
    oil_exponent, winding_exponent = 1.0, 1.6
    guaranteed = {"no-load-loss": "82 kW", "no-load-current": "0.60 %", "total-loss": "296 kW", "sound-level": "78 dB(A)",
                  "auxiliary-power": "24 kW"}
    guaranteed_load = {}

    def __init__(self):
        super().__init__()
        hv, lv, tv = (self.line_current(p, w) for p, w in ((100e6, "HV"), (30e6, "LV"), (30e6, "HV")))
        low = self.leakage("TV", "LV", 398, lv, self.voltage["LV"])
        main = self.leakage("LV", "HV", 598, hv, self.voltage["HV"])
        # series and common winding together against the tertiary; co-ratio 0.6 of the main pair
        self.impedance = {"HV-LV": main, "LV-TV": low, "HV-TV": low + 0.3 * main / 0.6 * 0.92}
        self.end_impedance = {}
