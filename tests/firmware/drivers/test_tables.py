"""The drivers' arithmetic against every row of published tables."""

import ast
import math
from pathlib import Path

import pytest
from twinloop.control import state as s
from twinloop.drivers import ds18b20, max31865, ntc
from twinloop.drivers.max31865 import Max31865

from ..runtime import small_integers

# Temperature in C, resistance of a Pt1000 in ohm.
# source: IEC 60751 coefficients; rows computed with them, Pt100 rows cross-checked with the
# MAX31865 data sheet.
PT1000 = """-50 803.0628  -40 842.7065  -30 882.2166  -20 921.5990  -10 960.8588  0 1000.0000  10 1039.0252  20 1077.9350
25 1097.3466  30 1116.7292  40 1155.4080  50 1193.9713  60 1232.4190  70 1270.7513  80 1308.9680  85 1328.0331  90 1347.0693
95 1366.0766  100 1385.0550  110 1422.9253  120 1460.6800  130 1498.3193  150 1573.2513  180 1684.7830  200 1758.5600
250 1940.9813"""
# Temperature in C, register pair 01h-02h of a Pt100 at 400 ohm, code. source: MAX31865 data sheet,
# table 9.
PT100_CODES = """-50 3366 6579  -40 35EE 6903  -20 3AFC 7550  0 4000 8192  20 44FC 8830  40 49F2 9465  60 4EE0 10096  80 53C6 10723
100 58A4 11346  120 5D7C 11966  150 64B0 12888  180 6BD4 13802  200 708C 14406  250 7C3A 15901"""
# Temperature in C, register. source: DS18B20 data sheet, table 1.
DS18B20 = "125 07D0  85 0550  25.0625 0191  10.125 00A2  0.5 0008  0 0000  -0.5 FFF8  -10.125 FF5E  -25.0625 FE6F  -55 FC90"
# Bytes in wire order, CRC. sources: Maxim application note 27 (first), dumps of real chips (next
# four), crccheck 1.3.1 Crc8Maxim.
CRC = """021CB801000000 A2  28DC6674050000 B9  4D014B467FFF0310 D8  28B143FE040000 73  50014B467FFF1010 49  50054B467FFF0C10 1C
5EFF4B467FFF0210 B6  91014B467FFF0F10 25  D0074B467FFF0C10 F4  313233343536373839 A1  FFFFFFFFFFFFFFFF C9  0000000000000000 00"""
# Temperature in C, resistance in ohm at beta 3435, 3950, 3977 of a 10 kOhm NTC. source: Beta
# equation, computed.
NTC = """-40 248276.52 401859.72 412134.57  -20 77522.55 105384.69 107094.87  0 28704.29 33620.60 33900.42  25 10000 10000 10000
50 4101.19 3588.18 3563.13  60 2980.85 2486.16 2462.62  80 1662.44 1270.32 1252.53  85 1451.35 1086.67 1070.31
100 987.04 697.52 684.94  120 617.96 407.09 398.28"""
BETAS = (3435, 3950, 3977)


def rows(text, width):
    """The words of a table, in rows."""
    words = text.split()
    return [words[place : place + width] for place in range(0, len(words), width)]


@pytest.mark.parametrize(("celsius", "ohm"), rows(PT1000, 2))
def test_pt1000_table(celsius, ohm):
    """Each row of IEC 60751 within 0.02 K."""
    assert abs(max31865.ratio_mc(round(float(ohm) / 1000 * 65536)) - 1000 * float(celsius)) <= 20


def pt_ratio(celsius):
    """Resistance ratio after IEC 60751."""
    cold = -4.183e-12 * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
    return 1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2 + cold


def test_pt1000_everywhere():
    """Every 0.01 K from -50 to 250 C within 0.02 K, with the ratio's 4 mK step; monotonic."""
    worst = max(abs(max31865.ratio_mc(round(pt_ratio(c / 100) * 65536)) - 10 * c) for c in range(-5000, 25001))
    assert worst <= 20
    values = [max31865.ratio_mc(ratio) for ratio in range(max31865.RATIO_SHORT, max31865.RATIO_OPEN)]
    assert all(later >= earlier for earlier, later in zip(values, values[1:], strict=False))


@pytest.mark.parametrize(("celsius", "register", "code"), rows(PT100_CODES, 3))
def test_pt100_codes(celsius, register, code):
    """The data sheet's codes: half a code is 0.016 K, rounding to 10 milliohm 0.026 K."""
    assert int(register, 16) >> 1 == int(code)
    chip = Max31865(None, None, 400, 100, 2, 50)
    chip.registers[2], chip.registers[3] = int(register, 16) >> 8, int(register, 16) & 255
    assert chip.take() == s.CAUSE_NONE
    assert abs(chip.mc - 1000 * float(celsius)) <= 16 + 20 + 26


def test_reference_resistors_and_limits():
    """430 ohm on a Pt100 module; both kinds of module have the same limits in kelvin."""
    for reference_ohm, nominal_ohm in ((4000, 1000), (4300, 1000), (400, 100), (430, 100)):
        chip = Max31865(None, None, reference_ohm, nominal_ohm, 3, 60)
        for celsius in (-50, 0, 60, 120, 240):
            register = round(pt_ratio(celsius) * nominal_ohm / reference_ohm * 32768) << 1
            assert chip.low < register < chip.high
            chip.registers[2], chip.registers[3] = register >> 8, register & 255
            assert chip.take() == s.CAUSE_NONE
            assert abs(chip.mc - 1000 * celsius) <= 20 + 18
        # 0.78 and 1.97 of the nominal resistance, in codes of the reference.
        assert abs((chip.low >> 1) - 0.78 * nominal_ohm / reference_ohm * 32768) <= 1.5
        assert abs((chip.high >> 1) - 1.97 * nominal_ohm / reference_ohm * 32768) <= 1.5


@pytest.mark.parametrize(("celsius", "register"), rows(DS18B20, 2))
def test_ds18b20_table(celsius, register):
    """Raw to millidegrees, exactly; 25.0625 C lies between two millidegrees and goes down."""
    raw = int(register, 16)
    assert ds18b20.raw_mc(raw - 65536 if raw >= 32768 else raw) == math.floor(float(celsius) * 1000)


@pytest.mark.parametrize(("data", "crc"), rows(CRC, 2))
def test_crc_table(data, crc):
    """CRC over the data, and zero over data and CRC."""
    body = bytes.fromhex(data)
    assert ds18b20.crc8(body, len(body)) == int(crc, 16)
    assert ds18b20.crc8(body + bytes([int(crc, 16)]), len(body) + 1) == 0


@pytest.mark.parametrize("row", rows(NTC, 4))
@pytest.mark.parametrize("series_ohm", [4700, 10000])
def test_ntc_table(row, series_ohm):
    """Each row within 0.03 K and half a step of a 16-bit divider; beyond the rails, a fault."""
    celsius = float(row[0])
    for beta, ohm in zip(BETAS, map(float, row[1:]), strict=True):
        part = ohm / (ohm + series_ohm)
        code = round(65535 * part)
        probe = ntc.Ntc(lambda code=code: code, 65535, series_ohm, 10000, beta)
        step_mk = 1000 * (celsius + 273.15) ** 2 / beta / (part * (1 - part) * 65535)
        assert abs(probe.divider_mc(code) - 1000 * celsius) <= 30 + step_mk / 2
        expected = s.CAUSE_OPEN if part > 0.97 else s.CAUSE_SHORT if part < 0.03 else s.CAUSE_NONE
        assert probe.read() == expected


def test_ln_everywhere():
    """The integer logarithm within 1/4000 for every code of a converter."""
    worst = max(abs(ntc.ln_q15(number) / 32768 - math.log(number)) for number in [*range(1, 70000, 7), 100000, 1 << 23])
    assert worst <= 1 / 4000


def checked_module(name):
    """A driver that checks that its results are small integers of a 32-bit MicroPython."""
    tree = ast.parse(Path(ds18b20.__file__).with_name(f"{name}.py").read_text())
    wrapper = small_integers.Wrapper(name)
    names = {"__package__": "twinloop.drivers", "__name__": f"checked_{name}", small_integers.REFUSE: small_integers.refuse_integer}
    exec(compile(ast.fix_missing_locations(wrapper.visit(tree)), name, "exec"), names)
    assert wrapper.wrapped > 10
    return names


def test_drivers_stay_within_small_integers():
    """For every value of a chip, at the ends of what board data may say."""
    rtd = checked_module("max31865")
    for reference_ohm, nominal_ohm in ((4300, 1000), (400, 100), (430, 100)):
        chip = rtd["Max31865"](None, None, reference_ohm, nominal_ohm, 2, 50)
        for register in range(0, 65536, 5):
            chip.registers[2], chip.registers[3] = register >> 8, register & 255
            chip.take()
    probes = checked_module("ntc")
    for series_ohm, r25_ohm, beta in ((1000, 100000, 2800), (100000, 1000, 4600)):
        for code in (*range(1, 66000, 11), 65999):
            probes["Ntc"](lambda code=code: code, 66000, series_ohm, r25_ohm, beta).read()
    bus = checked_module("ds18b20")["Ds18b20Bus"](None, 1, None, None)
    bus.trust[0] = ds18b20.PROVEN
    bus.pad[4] = ds18b20.CONFIG
    for raw in range(0, 65536, 3):
        bus.pad[0], bus.pad[1] = raw & 255, raw >> 8
        bus.judge(0)


def test_the_check_sees_a_large_integer():
    chip = checked_module("max31865")["Max31865"](None, None, 1 << 16, 1000, 2, 50)
    chip.registers[2] = 255
    with pytest.raises(small_integers.LeavesSmallIntegersError):
        chip.take()
