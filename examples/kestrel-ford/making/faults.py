"""Faults planted in a clean record, and the finding that each must give."""


class Planter:
    """Plants faults in a clean record and writes the expected finding at the end of the line."""

    def __init__(self, text):
        self.lines = text.splitlines()

    def find(self, stage, start, nth=0):
        """The nth line of `stage` that begins with `start`, blanks apart."""
        inside, found = False, 0
        wanted = start.split()
        for at, line in enumerate(self.lines):
            if line and not line.startswith((" ", "#")):
                inside = line.split()[:2] == stage.split() if " " in stage else line.split()[0] == stage
            if inside and line.split()[: len(wanted) - 1] == wanted[:-1] and \
                    " ".join(line.split()[len(wanted) - 1:]).startswith(wanted[-1]):
                if found == nth:
                    return at
                found += 1
        raise LookupError(f"{stage}: {start}")

    def mark(self, at, rules):
        if rules:
            self.lines[at] += f"  #! {rules}"

    def change(self, stage, start, old, new, rules=None, nth=0):
        at = self.find(stage, start, nth)
        assert old in self.lines[at], (self.lines[at], old)
        self.lines[at] = self.lines[at].replace(old, new, 1)
        self.mark(at, rules)

    def cell(self, stage, start, column, nth=0):
        return self.lines[self.find(stage, start, nth)].split()[column]

    def remove(self, stage, start):
        del self.lines[self.find(stage, start)]

    def expect(self, stage, start, rules, nth=0):
        self.mark(self.find(stage, start, nth), rules)

    def expect_worst(self, stage, d, rules):
        """Marks the rows with the worst instance of each rule: a check that fails often is told once."""
        rows = {}
        pair = next(iter(d.pairs))
        for tap in range(1, d.taps + 1):
            at = self.find(stage, f"{pair} {tap} ")
            while self.lines[at].split()[1] != str(tap):
                at += 1
            rows[at] = (tap, [float(cell) for cell in self.lines[at].split()[2:5]])
        marks = {}
        for rule, measure in rules:
            worst = max(rows, key=lambda at: (measure(d, *rows[at]), at))
            marks.setdefault(worst, []).append(rule)
        for at, found in marks.items():
            self.mark(at, ", ".join(found))

    def insert(self, stage, start, *new):
        """Puts lines below the one that begins with `start`."""
        at = self.find(stage, start) + 1
        self.lines[at:at] = new

    def append(self, *new):
        self.lines.extend(new)

    def text(self):
        return "\n".join(self.lines) + "\n"


def turn_error(d, tap, ratios):
    below = d.turns["LV"]
    return max(abs(below * (d.turns_at(tap) / below / ratio - 1)) for ratio in ratios)


def spread(d, tap, ratios):
    return (max(ratios) - min(ratios)) / (sum(ratios) / len(ratios))


def upper_turns(d, tap, ratios):
    return spread(d, tap, ratios) * d.turns_at(tap)


def turns_deviation(d, tap, ratios):
    turns = d.turns_at(tap) / d.turns["LV"]
    return max(abs(ratio / turns - 1) for ratio in ratios)
