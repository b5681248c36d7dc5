"""Numeric constants, each with its unit and source."""

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]; 3rd CGPM (1901), ISO 80000-3."""

STANDARD_TEMPERATURE = 288.15
"""Sea-level temperature of the standard atmosphere [K]; ISO 2533:1975."""

STANDARD_PRESSURE = 101325.0
"""Sea-level pressure of the standard atmosphere [Pa]; ISO 2533:1975."""

LAPSE_RATE = 0.0065
"""Fall of temperature with geopotential height below 11 km [K/m]; ISO 2533:1975."""

DRY_AIR_GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air [J/(kg K)]; ISO 2533:1975."""

ZERO_CELSIUS = 273.15
"""0 degC [K]; SI Brochure, 9th edition."""
