"""Properties of the water in a line: density, viscosity, vapour pressure.

Density is TEOS-10 (gsw) up to 50 g/kg and Sharqawy et al. above, where only brine comes;
viscosity is Sharqawy et al.; vapour pressure is that of pure water (IAPWS-IF97, region 4) times
the salt factor of Nayar et al.

References
----------
IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater.
Sharqawy, Lienhard and Zubair (2010), Thermophysical properties of seawater: a review of existing
correlations and data, Desalination and Water Treatment 16, eqs. 8, 22 and 23.
Nayar, Sharqawy, Banchik and Lienhard (2016), Thermophysical properties of seawater: a review and
new correlations that include pressure dependence, Desalination 390 (salt factor).
IAPWS (2012), Release R7-97 on the industrial formulation 1997, eqs. 29 and 30.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import gsw

from fitcheck.errors import OutOfRangeError, ValidityWarning
from fitcheck.units import Celsius, KilogramPerCubicMetre, Pascal, PascalSecond, Ratio, amount

#: Range of water temperatures in a boat; every correlation here is valid in it [degC].
COLDEST_C, WARMEST_C = -2.0, 45.0
#: Salinity up to which TEOS-10 states its fit, and up to which its density was found valid [1].
STATED_SALINITY, DENSITY_SALINITY = 0.042, 0.050
#: Salinity up to which the viscosity and density of Sharqawy et al. are published [1].
BRINE_SALINITY = 0.150
FREEZING_POINT_OF_WATER = 273.15

#: Coefficients n1..n10 of the saturation equation of IAPWS-IF97, table 34.
SATURATION = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """One water at one temperature and salinity (mass fraction)."""

    temperature_C: Celsius
    salinity: Ratio
    density: KilogramPerCubicMetre
    viscosity: PascalSecond
    vapour_pressure: Pascal


def water(salinity: Ratio, temperature_C: Celsius) -> Water:
    """The properties of water of a mass fraction `salinity` [1] at `temperature_C` [degC].

    Raises OutOfRangeError outside -2..45 degC or 0..0.150; warns (ValidityWarning) above 0.042.
    """
    return Water(
        temperature_C=temperature_C,
        salinity=salinity,
        density=density(salinity, temperature_C),
        viscosity=viscosity(salinity, temperature_C),
        vapour_pressure=vapour_pressure(salinity, temperature_C),
    )


def density(salinity: Ratio, temperature_C: Celsius) -> KilogramPerCubicMetre:
    """Density at one atmosphere [kg/m3] of `salinity` [1] at the in-situ `temperature_C` [degC].

    Notes
    -----
    TEOS-10 with absolute salinity and in-situ (not conservative) temperature to 0.050; its
    stated range ends at 0.042, above which a ValidityWarning is given. Sharqawy et al. eq. 8
    above that, +-0.1 %.
    """
    _guard(salinity, temperature_C)
    if salinity > STATED_SALINITY:
        warnings.warn(
            f"salinity {salinity * 1000:.1f} g/kg is above the 42 g/kg TEOS-10 states",
            ValidityWarning,
            stacklevel=2,
        )
    if salinity > DENSITY_SALINITY:
        return _brine_density(salinity, temperature_C)
    return float(gsw.rho_t_exact(salinity * 1000.0, temperature_C, 0.0))


def viscosity(salinity: Ratio, temperature_C: Celsius) -> PascalSecond:
    """Dynamic viscosity [Pa s] of `salinity` [1] at `temperature_C` [degC].

    Notes
    -----
    Sharqawy et al. eqs. 22 and 23, published for 0..180 degC and 0..0.150, +-1.5 %; used down to
    -2 degC.
    """
    _guard(salinity, temperature_C)
    t = temperature_C
    pure = 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)
    first = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    second = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    return pure * (1.0 + first * salinity + second * salinity**2)


def vapour_pressure(salinity: Ratio, temperature_C: Celsius) -> Pascal:
    """Absolute vapour pressure [Pa] of `salinity` [1] at `temperature_C` [degC].

    Notes
    -----
    Pure water by the saturation equation of IAPWS-IF97 (published from 0 degC, used from -2),
    lowered by the salt factor of Nayar et al.
    """
    _guard(salinity, temperature_C)
    grams = salinity * 1000.0
    return saturation_pressure(temperature_C) * math.exp(-4.5818e-4 * grams - 2.0443e-6 * grams**2)


def saturation_pressure(temperature_C: Celsius) -> Pascal:
    """Absolute vapour pressure of pure water [Pa] at `temperature_C` [degC].

    Notes
    -----
    IAPWS-IF97 eq. 30 (region 4), published for 273.15 K to 647.096 K.
    """
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = SATURATION
    kelvin = temperature_C + FREEZING_POINT_OF_WATER
    theta = kelvin + n9 / (kelvin - n10)
    a = theta**2 + n1 * theta + n2
    b = n3 * theta**2 + n4 * theta + n5
    c = n6 * theta**2 + n7 * theta + n8
    return float(1e6 * (2.0 * c / (-b + math.sqrt(b**2 - 4.0 * a * c))) ** 4)


def _brine_density(salinity: Ratio, temperature_C: Celsius) -> KilogramPerCubicMetre:
    """Sharqawy et al. eq. 8, 0..180 degC, 0..0.150 [kg/m3]."""
    t, s = temperature_C, salinity
    pure = 9.999e2 + 2.034e-2 * t - 6.162e-3 * t**2 + 2.261e-5 * t**3 - 4.657e-8 * t**4
    salt = 8.020e2 - 2.001 * t + 1.677e-2 * t**2 - 3.060e-5 * t**3 - 1.613e-5 * s * t**2
    return pure + s * salt


def _guard(salinity: Ratio, temperature_C: Celsius) -> None:
    if not COLDEST_C <= temperature_C <= WARMEST_C:
        raise OutOfRangeError(
            "water temperature",
            amount(temperature_C, "sea temperature"),
            f"{amount(COLDEST_C, 'sea temperature')} to {amount(WARMEST_C, 'sea temperature')}",
            "Sharqawy et al. 2010",
        )
    if not 0.0 <= salinity <= BRINE_SALINITY:
        raise OutOfRangeError(
            "salinity", f"{salinity * 1000:g} g/kg", "0 to 150 g/kg", "Sharqawy et al. 2010"
        )
