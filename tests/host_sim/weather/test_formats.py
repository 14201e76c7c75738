"""Weather files of every kind, written here from known moments and checked against the sun."""

import json

import numpy as np
import pandas as pd
import pytest
from pvlib.location import Location
from twinloop_sim.thermal import parameters as p
from twinloop_sim.thermal import state as s
from twinloop_sim.weather.files import SHIPPED, named_weather, read_weather
from twinloop_sim.weather.plane import sun_position
from twinloop_sim.weather.table import drive_table

from ..shared import refused

LATITUDE, LONGITUDE, ALTITUDE, ZONE = 45.0, 8.0, 250.0, 1
OFFSET_H = 0.1761


def cloudless(first, rows, minutes, zone):
    """Cloudless sky at moments `minutes` apart from `first` on, in the clock of `zone`."""
    times = pd.date_range(first, periods=rows, freq=f"{minutes}min", tz=f"Etc/GMT{-zone:+d}")
    sky = Location(LATITUDE, LONGITUDE, altitude=ALTITUDE).get_clearsky(times, model="ineichen")
    sky["air"] = 10.0 + np.arange(rows) % 24 / 2.0
    return sky.round(2)


def write_pvgis(path, offset_h=OFFSET_H):
    """The same year as CSV or JSON; values for `offset_h` after each full hour of UTC."""
    moments = pd.Timestamp("2007-01-01") + pd.Timedelta(seconds=round(offset_h * 3600.0))
    sky = cloudless(moments, 8760, 60, 0)
    stamps = pd.date_range("2007-01-01", periods=8760, freq="60min").strftime("%Y%m%d:%H%M")
    if path.suffix == ".json":
        keys = ("time(UTC)", "T2m", "RH", "G(h)", "Gb(n)", "Gd(h)", "IR(h)", "WS10m", "WD10m", "SP")
        columns = (stamps, sky["air"], [80.0] * 8760, sky["ghi"], sky["dni"], sky["dhi"], *[[1.0] * 8760] * 4)
        hours = [dict(zip(keys, row, strict=True)) for row in zip(*columns, strict=True)]
        place = {"latitude": LATITUDE, "longitude": LONGITUDE, "elevation": ALTITUDE, "irradiance_time_offset": offset_h}
        selected = [{"month": month, "year": 2007} for month in range(1, 13)]
        facts = {
            "inputs": {"location": place},
            "outputs": {"months_selected": selected, "tmy_hourly": hours},
            "meta": {"inputs": {}},
        }
        path.write_text(json.dumps(facts))
        return
    lines = [f"Latitude (decimal degrees): {LATITUDE}", f"Longitude (decimal degrees): {LONGITUDE}", f"Elevation (m): {ALTITUDE}"]
    lines += [f"Irradiance Time Offset (h): {offset_h}", "month,year", *(f"{month},2007" for month in range(1, 13))]
    lines.append("time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP")
    for stamp, row in zip(stamps, sky.itertuples(), strict=True):
        lines.append(f"{stamp},{row.air},80.0,{row.ghi},{row.dni},{row.dhi},300.0,1.0,180.0,98000.0")
    path.write_text("\n".join([*lines, "T2m: air", ""]))


def write_nsrdb(path, minutes=30, first="2017-01-01 00:00", zone=ZONE):
    """Stamps are the moments themselves, in the zone that the file names."""
    sky = cloudless(first, 8760 * 60 // minutes, minutes, zone)
    head = "Source,Location ID,Latitude,Longitude,Time Zone,Elevation,Local Time Zone"
    lines = [head, f"X,1,{LATITUDE},{LONGITUDE},{zone},{ALTITUDE:.0f},{ZONE}"]
    lines.append("Year,Month,Day,Hour,Minute,DHI,GHI,DNI,Dew Point,Temperature,Wind Speed")
    for time, row in zip(sky.index, sky.itertuples(), strict=True):
        clock = f"{time.year},{time.month},{time.day},{time.hour},{time.minute}"
        lines.append(f"{clock},{row.dhi},{row.ghi},{row.dni},2.0,{row.air},1.0")
    path.write_text("\n".join(lines) + "\n")


def write_epw(path, weather):
    lines = [f"LOCATION,X,-,X,X,0,{weather.latitude_deg},{weather.longitude_deg},{weather.utc_offset_h},{weather.altitude_m}"]
    lines += ["DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0"]
    lines += ["COMMENTS 1,x", "COMMENTS 2,x", "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    for hour, time in enumerate(pd.date_range("1990-01-01", periods=8760, freq="60min")):
        air, dew = f"{weather.ambient_c[hour]:.2f}", f"{weather.dew_point_c[hour]:.2f}"
        sun = ",".join(f"{series[hour]:.2f}" for series in (weather.ghi_w_per_m2, weather.dni_w_per_m2, weather.dhi_w_per_m2))
        cloud = f"{10.0 * weather.cloud_share[hour]:.0f}"
        start = f"{time.year},{time.month},{time.day},{time.hour + 1},60,x,{air},{dew},60,98000,9999,9999,300,{sun}"
        lines.append(f"{start},0,0,0,0,180,{weather.wind_m_per_s[hour]:.2f},{cloud},{cloud},9,9,9,9,9,0,0,0,0,0,0")
    path.write_text("\n".join(lines) + "\n")


def unbalanced_w_per_m2(weather):
    """Mean gap by day between horizontal irradiance and the sum of its parts, W/m2."""
    zenith_deg, _ = sun_position(weather, weather.centres())
    day = zenith_deg < 85.0
    beam = weather.dni_w_per_m2 * np.cos(np.radians(zenith_deg))
    return float(np.abs(weather.ghi_w_per_m2 - weather.dhi_w_per_m2 - beam)[day].mean())


def kinds(folder, name):
    path = folder / name
    if name.startswith("pvgis"):
        write_pvgis(path)
    else:
        hourly, halves = (60, "2017-01-01 00:30"), (30, "2017-01-01 00:00")
        write_nsrdb(path, *{"half.csv": halves, "hour.csv": hourly, "universal.csv": (*hourly, 0)}[name])
    return path


@pytest.mark.parametrize("name", ["pvgis.csv", "pvgis.json", "half.csv", "hour.csv", "universal.csv"])
def test_stamps_are_where_the_sun_was(tmp_path, name):
    weather = read_weather(kinds(tmp_path, name))
    assert (weather.latitude_deg, weather.longitude_deg, weather.altitude_m) == (LATITUDE, LONGITUDE, ALTITUDE)
    assert weather.utc_offset_h == ZONE
    # source: definition of direct irradiance. Rounded to whole minutes, the sun's refraction left
    # out: some W/m2.
    assert unbalanced_w_per_m2(weather) < 2.0
    # Negative: half an hour off is seen at once.
    moved = weather.__class__(**{**vars(weather), "first": weather.first + np.timedelta64(1800, "s")})
    assert unbalanced_w_per_m2(moved) > 20.0


def test_local_midnight_of_a_file_in_universal_time(tmp_path):
    weather = read_weather(kinds(tmp_path, "pvgis.csv"))
    # 01:00 local is 00:00 universal; the value 634 s after it stands for the half hours on either
    # side of 01:10:34.
    assert weather.first == np.datetime64("1989-12-31T23:41:00")
    assert weather.ambient_c[0] == 10.0 + 23 / 2.0
    assert weather.ambient_c[1] == 10.0


def test_epw_hours_are_those_that_were_written(tmp_path):
    told = named_weather("greensboro")
    write_epw(tmp_path / "x.epw", told)
    read = read_weather(tmp_path / "x.epw")
    for name in ("ghi_w_per_m2", "dni_w_per_m2", "dhi_w_per_m2", "ambient_c", "dew_point_c", "cloud_share", "wind_m_per_s"):
        assert getattr(read, name) == pytest.approx(getattr(told, name), abs=0.006), name
    assert (read.first, read.interval_s, read.utc_offset_h) == (told.first, told.interval_s, told.utc_offset_h)


def test_an_epw_file_from_pvgis_tells_its_offset_against_the_hours_end(tmp_path):
    weather = read_weather(kinds(tmp_path, "pvgis.csv"))
    order = (np.arange(8760) + ZONE) % 8760
    turned = weather.__class__(
        **{name: value[order] if isinstance(value, np.ndarray) else value for name, value in vars(weather).items()}
    )
    path = tmp_path / "x.epw"
    write_epw(path, turned)
    # The same offset counted from the hour that has ended.
    path.write_text(path.read_text().replace("COMMENTS 2,x", f"COMMENTS 2,Irradiance Time Offset (h):{OFFSET_H - 1.0:.4f}"))
    again = read_weather(path)
    assert again.first == weather.first
    assert unbalanced_w_per_m2(again) < 2.0


@pytest.mark.parametrize("name", ["pvgis.csv", "half.csv"])
def test_rows_of_a_day_off_the_hour_keep_the_energy(tmp_path, name):
    weather, values = read_weather(kinds(tmp_path, name)), p.plant_values({})
    days = drive_table(weather, values, (6, 1), 4, 5.0)
    assert len(days) == 4 * 17280
    # Noon of the sun at 8 E is 12:28 in the clock of zone 1 (CALC); June's equation of time adds
    # less than 3 min.
    peak_h = days[:17280, s.DRIVE_TILTED_W_PER_M2].argmax() * 5.0 / 3600.0
    assert peak_h == pytest.approx(12.45, abs=0.25)
    halves = np.concatenate(
        [drive_table(weather, values, (6, 1), 2, 5.0), drive_table(weather, values, (6, 1), 2, 5.0, skip_days=2)]
    )
    assert np.array_equal(days, halves)
    noon = days[17280 : 2 * 17280, s.DRIVE_TILTED_W_PER_M2]
    assert noon.sum() * 5.0 / 3.6e6 == pytest.approx(
        days[2 * 17280 : 3 * 17280, s.DRIVE_TILTED_W_PER_M2].sum() * 5.0 / 3.6e6, rel=0.01
    )


def test_shipped_places_read():
    for name in SHIPPED:
        assert len(named_weather(name).ambient_c) == 8760
    with pytest.raises(ValueError, match="weather nowhere: not known, allowed greensboro, sand-point, miami or the path of a file"):
        named_weather("nowhere")


@pytest.mark.parametrize(
    ("name", "edit", "named"),
    [
        ("pvgis.csv", lambda text: "\n".join(text.splitlines()[:4000]), "ghi is missing in hour 1"),
        ("pvgis.csv", lambda text: text.replace("Gb(n)", "G?"), "column dni is missing"),
        ("pvgis.csv", lambda text: text.replace("month,year", "Slope: 30"), "PVGIS, but not a typical year"),
        ("pvgis.json", lambda text: text[:5000], "not a complete PVGIS year"),
        ("half.csv", lambda text: "\n".join(text.splitlines()[:9000]) + "\n", "a year needs 8760"),
        ("half.csv", lambda text: text.replace(",DNI,", ",Direct,"), "column dni is missing"),
        ("hour.csv", lambda text: text.replace("Latitude", "Breadth"), "not a complete NSRDB year"),
        ("hour.csv", lambda text: text.replace("2017,6,1,0,30,0.0,0.0,0.0", "2017,6,1,0,30,0.0,-7.0,0.0"), "ghi = -7 in hour 3625"),
        ("hour.csv", lambda text: text.replace(f"X,1,{LATITUDE}", "X,1,145.0"), "latitude = 145.0, allowed -90 to 90"),
    ],
)
def test_a_wrong_file_is_refused_in_one_line(tmp_path, name, edit, named):
    path = kinds(tmp_path, name)
    path.write_text(edit(path.read_text()))
    with refused(named) as caught:
        read_weather(path)
    assert name in str(caught.value)
