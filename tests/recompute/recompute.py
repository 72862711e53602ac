"""Computes the figures of sealed packets again, from nothing but their figures.json.

    python3 recompute.py FILE...

Each FILE is the figures.json of one tax year. Every expression in it is evaluated here anew, in exact
fractions, and compared with the value printed beside it and with every operand listed under `used`. What
the words in an expression mean stands in the JSON Schema of the file; this program is written from that
alone and shares nothing with the one that made the file, so a mistake would have to be made twice.

The file stands alone: values of the law and facts of the case are in the expressions, figures of the same
year are lines of the same file, and figures of other years have their value under `used`.

Exit status: 0 when everything agrees, 1 when something does not, 2 when a file cannot be read.
"""

import json
import sys
from fractions import Fraction

# How many digits stay behind the point, by the name of the rounding.
ROUNDINGS = {"whole_dollars": 0, "cents": 2, "tenths_of_percent": 3}

# An operand is written with so many digits behind the point at least; a division may leave more than can be written.
OPERAND_DIGITS = 12


class Mistake(Exception):
    """The file asks for something that it does not hold."""


class Year:
    """The lines of one file, computed again as they are asked for."""

    def __init__(self, data):
        self.year = data["year"]
        self.lines = {}
        for line in data["lines"]:
            place = f"{self.year}:{line['line']}"
            if line["of"] is not None:
                place += f"@{line['of']}"
            if place in self.lines:
                raise Mistake(f"{place} stands twice")
            self.lines[place] = line
        self.done = {}
        self.open = []

    def value(self, place):
        """The value of a line of this year, computed again: a number, or words."""
        if place not in self.done:
            if place in self.open:
                raise Mistake(f"{place} rests on itself")
            self.open.append(place)
            line = self.lines[place]
            self.done[place] = Expression(self, line).of(line["expr"])
            self.open.pop()
        return self.done[place]


class Expression:
    """One line's expression, with the operands that stand beside it."""

    def __init__(self, year, line):
        self.year = year
        self.operands = {
            used["figure"]["place"]: read(used["figure"]) for used in line["used"] if "figure" in used
        }

    def figure(self, place):
        """Another line: of this year computed again, of another year as the operands say."""
        if place in self.year.lines:
            return self.year.value(place)
        if place.startswith(f"{self.year.year}:"):
            raise Mistake(f"there is no line {place}")
        if place not in self.operands:
            raise Mistake(f"the value of {place} does not stand under `used`")
        return self.operands[place]

    def order(self, rows, by):
        """The numbers of rows from 0, the largest first; equal ones keep the order in which they are listed."""
        measured = [self.figure(place) for place in (by or rows)]
        return sorted(range(len(rows)), key=lambda row: -measured[row])

    def of(self, expr):
        ((word, inside),) = expr.items()
        return getattr(self, "do_" + word)(inside)

    def all(self, exprs):
        return [self.of(expr) for expr in exprs]

    def do_fact(self, fact):
        return read(fact)

    def do_law(self, law):
        return read(law)

    def do_number(self, number):
        return Fraction(number["value"])

    def do_figure(self, place):
        return self.figure(place)

    def do_rows(self, rows):
        order = self.order(rows["rows"], rows["by"])
        n = rows["n"]
        picked = order[n - 1 : n] if rows["pick"] == "nth" else order[n:]
        return sum((self.figure(rows["rows"][row]) for row in picked), Fraction(0))

    def do_words_of_row(self, words):
        row = self.order(words["rows"], words["by"])[words["n"] - 1]
        return words["words"][row]["value"]

    def do_sum(self, parts):
        return sum(self.all(parts), Fraction(0))

    def do_less(self, two):
        first, second = self.all(two)
        return first - second

    def do_times(self, two):
        first, second = self.all(two)
        return first * second

    def do_share(self, share):
        whole, part, of = (self.of(share[key]) for key in ("whole", "part", "of"))
        return whole * part / of if of else Fraction(0)

    def do_smaller(self, parts):
        return min(self.all(parts))

    def do_not_below_zero(self, inner):
        return max(self.of(inner), Fraction(0))

    def do_passing(self, passing):
        above = self.of(passing["amount"]) > self.of(passing["limit"])
        return self.of(passing["above" if above else "otherwise"])

    def do_round(self, rounding):
        return half_up(self.of(rounding["of"]), ROUNDINGS[rounding["to"]])

    def do_ruled(self, ruled):
        amount = self.of(ruled["of"])
        return amount if ruled["ruling"]["counts"] else Fraction(0)

    def do_answer(self, answer):
        return read(answer)


def read(entry):
    """The value of a fact, of the law or of an operand: exact numbers, shares as factors; or words."""
    if entry["kind"] in ("money", "rate", "quantity"):
        return Fraction(entry["value"])
    return entry["value"]


def half_up(number, digits):
    """Rounded to so many digits behind the point, a tie away from zero."""
    scaled = abs(number) * 10**digits
    rounded = Fraction((2 * scaled + 1) // 2, 10**digits)
    return rounded if number >= 0 else -rounded


def written(number, digits):
    """With just so many digits behind the point."""
    scaled = half_up(number, digits) * 10**digits
    text = str(abs(scaled.numerator)).rjust(digits + 1, "0")
    whole, behind = (text[:-digits], "." + text[-digits:]) if digits else (text, "")
    return ("-" if scaled < 0 else "") + whole + behind


def shortest(number, most):
    """With as few digits behind the point as say it whole; none where more than `most` would be needed."""
    for digits in range(most + 1):
        if half_up(number, digits) == number:
            return written(number, digits)
    return None


def printed(kind, value):
    """The value as a line prints it."""
    if kind == "money":
        return written(value, 2)
    if kind == "quantity":
        return shortest(value, 28)
    if kind == "rate":
        # A share that a division left with a long tail is printed with one digit.
        percent = value * 100
        return (shortest(percent, 8) or shortest(half_up(percent, 1), 1)) + "%"
    return value


def same(one, other):
    """Says whether an operand is the number computed again."""
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    return half_up(one, OPERAND_DIGITS) == half_up(other, OPERAND_DIGITS)


def differences(data):
    """Says what does not agree in one file, and how many values were compared."""
    year = Year(data)
    told, compared = [], 0
    for place, line in year.lines.items():
        again = year.value(place)
        compared += 1
        if printed(line["kind"], again) != line["value"]:
            told.append(f"{place} is printed {line['value']} and comes to {printed(line['kind'], again)}")
        for used in line["used"]:
            operand = used.get("figure")
            if operand and operand["place"] in year.lines:
                compared += 1
                if not same(read(operand), year.value(operand["place"])):
                    told.append(f"{place} uses {operand['place']} as {operand['value']}")
    return told, compared


def main(files):
    if not files:
        print(__doc__, file=sys.stderr)
        return 2
    values, different = 0, 0
    for name in files:
        try:
            with open(name, encoding="utf-8") as file:
                told, compared = differences(json.load(file))
        except (OSError, ValueError, KeyError, AttributeError, ArithmeticError, Mistake) as error:
            print(f"{name}: {type(error).__name__}: {error}", file=sys.stderr)
            return 2
        values += compared
        different += len(told)
        for one in told:
            print(f"{name}: {one}")
    print(f"{len(files)} files, {values} values computed again, {different} different")
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
