"""Writes one invented drive as spreadsheets of several countries would.

The figures of each country are those of the Common Locale Data Repository, by Babel
(`pip install babel`); separators, codes and quotes are those that spreadsheets write, by Python's
own `csv`. `plain.csv` holds the same drive in plain columns. Run in this folder.
"""

import csv
import datetime
import io
import math

from babel.dates import format_date, format_time
from babel.numbers import format_decimal

HEADERS = {
    "plain": ["time_s", "speed_kmh", "elevation_m", "pack_v", "pack_a", "charge_pct", "winding_c", "auxiliary_kw"],
    "en_US": ["Time", "Speed (km/h)", "Altitude (m)", "Battery Voltage (V)", "Battery Current (A)", "SOC (%)", "Motor temp (°C)", "Heater (kW)"],
    "de_DE": ["Uhrzeit", "Geschwindigkeit [km/h]", "Höhe [m]", "Batteriespannung [V]", "Strom [A]", "Ladezustand [%]", "Motortemperatur [°C]", "Heizung [kW]"],
    "fr_FR": ["Heure", "Vitesse (km/h)", "Altitude (m)", "Tension (V)", "Courant (A)", "SOC (%)", "Moteur (°C)", "Chauffage (kW)"],
    "de_CH": ["Zeit", "Geschwindigkeit km/h", "Höhe m", "Spannung V", "Strom A", "SOC %", "Motor °C", "Heizung kW"],
}


def rows():
    """Time, speed, elevation, volts, amperes, charge, winding, heater of a drive past midnight."""
    charge = 90.0
    for i in range(120):
        speed = 0.0 if i < 3 else 50.0 * (1.0 - math.cos(2.0 * math.pi * (i - 3) / 117.0)) / 2.0
        faster = 50.0 * (1.0 - math.cos(2.0 * math.pi * (i - 2) / 117.0)) / 2.0 if i >= 3 else 0.0
        amperes = 6.0 + 1.4 * speed + 60.0 * (faster - speed)
        charge -= max(amperes, -20.0) / 400.0
        yield [i, speed, 1203.4 + 0.21 * i, 131.2 - 0.03 * amperes, amperes, charge, 24.5 + 0.125 * i, 1.25 + 0.25 * (i % 4)]


DECIMALS = [0, 2, 1, 2, 1, 3, 3, 2]
START = datetime.datetime(2026, 3, 30, 23, 59, 0)


def table(locale):
    yield HEADERS[locale]
    for row in rows():
        cells = []
        for at, (value, decimals) in enumerate(zip(row, DECIMALS)):
            value = round(value, decimals) + 0.0
            if locale == "plain":
                cells.append(f"{value:.{decimals}f}")
            elif at == 0:
                moment = START + datetime.timedelta(seconds=value)
                time = format_time(moment, "medium", locale=locale)
                cells.append(f"{format_date(moment, 'short', locale=locale)} {time}")
            else:
                pattern = "#,##0." + "0" * decimals
                cells.append(format_decimal(value, pattern, locale=locale))
        yield cells


def text(locale, separator):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerows(table(locale))
    return out.getvalue()


def write(name, content, code):
    with open(name, "wb") as file:
        file.write(content.encode(code))


write("plain.csv", text("plain", ",").replace("\r\n", "\n"), "ascii")
write("american.csv", text("en_US", ","), "utf-8")
write("german.csv", text("de_DE", ";"), "latin-1")
write("french.csv", text("fr_FR", ";"), "utf-8-sig")
write("swiss.csv", "sep=;\r\n" + text("de_CH", ";"), "utf-8")
write("unicode.txt", text("de_DE", "\t"), "utf-16")
