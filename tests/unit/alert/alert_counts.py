#!/usr/bin/env python3
"""How often a limit raises an alert in a log, counted without the daemon's code.

    alert_counts.py FILE COLUMN high|low,LIMIT,DEADBAND,ON_S,OFF_S ...

A count a line for each setting. FILE is comma separated with a header; a first column without a
heading (a row number) is passed over. Its time is in a column `date` as `YYYY-MM-DD HH:MM:SS`, or
in seconds in a column `s`. An alert is raised when the value has been beyond the limit for ON_S,
and is over when it has been back by the deadband for OFF_S; both are looked at on each row, by the
rows' own times.
"""
import csv
import datetime
import sys


def rows(path, column):
    with open(path, newline="") as file:
        table = csv.reader(file)
        names = next(table)
        for row in table:
            shift = len(row) - len(names)
            cell = dict(zip(names, row[shift:]))
            if "s" in cell:
                at = float(cell["s"])
            else:
                at = datetime.datetime.strptime(cell["date"], "%Y-%m-%d %H:%M:%S")
                at = at.replace(tzinfo=datetime.timezone.utc).timestamp()
            yield at, float(cell[column])


def count(samples, high, limit, deadband, on_s, off_s):
    raised = False
    count_of_raises = 0
    waiting_since = None
    for at, value in samples:
        if not high:
            value, edge = -value, -limit
        else:
            edge = limit
        leaving = value <= edge - deadband if raised else value > edge
        if not leaving:
            waiting_since = None
            continue
        if waiting_since is None:
            waiting_since = at
        if at - waiting_since >= (off_s if raised else on_s):
            raised = not raised
            waiting_since = None
            count_of_raises += raised
    return count_of_raises


def main():
    path, column, *settings = sys.argv[1:]
    samples = list(rows(path, column))
    for setting in settings:
        side, *figures = setting.split(",")
        print(count(samples, side == "high", *map(float, figures)))


if __name__ == "__main__":
    main()
