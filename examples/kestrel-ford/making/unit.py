"""One unit as built: the design with the small differences of real work."""

import math
import random


class Unit:
    def __init__(self, serial, seed, design):
        self.serial = serial
        self.random = random.Random(seed)
        self.d = design
        r = self.random
        coils = [(w, p) for w in design.windings for p in design.phases]
        self.resistance_factor = {coil: 1 + r.uniform(-0.003, 0.004) for coil in coils}
        self.tap_factor = {p: 1 + r.uniform(-0.003, 0.003) for p in design.phases}
        self.lead_factor = {coil: 1.003 + r.uniform(0, 0.0015) for coil in coils}
        self.ratio_factor = {p: 1 + r.uniform(-0.00012, 0.00012) for p in design.phases}
        self.pressed = {coil: design.height + 1 + r.choice((-0.5, 0, 0.5, 1.0)) for coil in coils}
        self.stack = {p: round(design.core_stack + r.uniform(-0.8, 0.8), 1) for p in design.phases}
        self.plate = {name: 296 + r.randint(-6, 6) for name in design.condenser}
        self.loss_factor = 1 + r.uniform(-0.02, 0.01)

    def winding_resistance(self, winding, phase, temperature):
        """One winding by itself, on the principal tapping."""
        return self.d.resistance_20[winding] * self.resistance_factor[winding, phase] * self.d.copper(temperature)

    def terminal_resistance(self, winding, phase, temperature, extra=1.0):
        """To neutral or end; for a delta between two line terminals."""
        def of(p):
            leads = self.lead_factor[winding, p] * extra
            return self.winding_resistance(winding, p, temperature) * leads
        if winding in self.d.star or not self.d.three:
            return of(phase)
        a, b, c = (of(p) for p in (phase, *(p for p in self.d.phases if p != phase)))
        return a * (b + c) / (a + b + c)

    def tap_resistance(self, tap, phase, temperature, extra=1.0):
        steps = self.d.steps(tap)
        if self.d.arrangement == "reversing":
            steps = abs(steps)
        turns = steps * self.d.tap_turns * self.d.tap_turn_20 * self.tap_factor[phase] * self.d.copper(temperature)
        return self.terminal_resistance(self.d.tapped, phase, temperature, extra) + turns

    def ratio(self, pair, tap, phase, upper_extra=0, lower_extra=0):
        upper, lower, _ = self.d.pairs[pair]
        turns = self.d.ratio_at(pair, tap)
        below = self.d.circuit_turns(lower)
        above = turns * below
        value = (above + upper_extra) / (below + lower_extra)
        return value * self.ratio_factor[phase] * (1 + self.random.uniform(-4e-5, 4e-5))


def joined_voltages(supply, ratio, clock):
    """Voltages with A and a joined: B-b, C-c, B-c, C-b."""
    small, angle = supply / ratio, math.radians(30 * clock)

    def between(turn):
        return math.sqrt(supply**2 + small**2 - 2 * supply * small * math.cos(angle + math.radians(turn)))

    return between(0), between(0), between(60), between(-60)
