"""Lines of a record."""


def number(value, places):
    return f"{value:.{places}f}"


def matrix(rows, columns, value):
    return [[row, *[value(row, column) for column in columns]] for row in rows]


class Writer:
    """Collects the lines of a record."""

    def __init__(self):
        self.lines = []

    def line(self, text=""):
        self.lines.append(text.rstrip())

    def stage(self, name, comment=None):
        self.line()
        self.line(f"stage {name}" + (f"  # {comment}" if comment else ""))

    def context(self, person, moment):
        self.line(f"  on {moment} by {person}")

    def notified(self, point, day, letter):
        """Notice to the customer, on the same weekday some weeks before."""
        self.line(f'  notified {point} by D.Quill on {day:%Y-%m-%d} "letter {letter}"')

    def reading(self, name, value, *clauses):
        self.line("  " + "  ".join([f"{name} = {value}", *clauses]))

    def table(self, head, header, rows, *clauses):
        self.line("  " + "  ".join(["table" + (f" {head}" if head else ""), *clauses]))
        cells = [[str(cell) for cell in row] for row in [header, *rows]]
        widths = [max(len(row[at]) for row in cells) for at in range(len(header))]
        for row in cells:
            self.line("    " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths)))

    def text(self):
        return "\n".join(self.lines) + "\n"
