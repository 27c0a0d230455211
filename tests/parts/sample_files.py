"""A small sound catalogue as text, and ways to spoil it. All parts and suppliers are invented."""

from collections.abc import Mapping
from pathlib import Path

from optimise.parts import Fault, InputError, read_catalogue

TABLES: Mapping[str, str] = {
    "emitters": """\
# Invented for the tests.
part,form,drive,flux [lm],current [A],voltage [V],power [W],voltage_min [V],voltage_max [V],current_min [A],\
current_max [A],length [mm],width [mm],mass [g],ip,note
BAR,module,constant current,1000,0.7,24,,22,26,0.1,1.0,280,24,32,IP20,
STRIP,strip,constant voltage,500,0.3,24,,,,,,500,14,11,,
TUBE,tube,ballast,2800,,,36,,,,,1200,42,180,,glass
""",
    "drivers": """\
part,input,input_min [V],input_max [V],output,output_current [A],current_min [A],current_max [A],output_min [V],\
output_max [V],power_max [W],efficiency,power_factor,lamps,lamp_power [W],mass [g]
CC,dc,10,30,constant current,0.7,,,20,56,40,0.91,,,,50
CCA,dc,11,31,constant current,,0.3,1.4,21,57,41,0.92,,,,60
CV,ac,200,240,constant voltage,,,,24,24.5,100,0.93,0.95,,,380
GEAR,ac,201,241,ballast,,,,,,,0.94,0.96,2,36,220
""",
    "panels": """\
part,width [cm],height [cm],material,metal,faces,temperature_max [degC],mass [kg]
BOARD,40,30,"aluminium, painted",yes,1,85,0.7
""",
    "diffusers": """\
part,transmittance,spread [deg],width [m],height [m],mass_per_area [g/m^2]
CLOTH,0.5,lambertian,2,1.5,135
FILM,0.7,55,1.5,1.2,85
""",
    "batteries": """\
part,chemistry,voltage [V],voltage_min [V],voltage_max [V],capacity [Ah],rated_time [h],peukert,current_max [A],\
series_max,mass [kg]
CELL,lead-acid,12,10.5,14.4,7,20,1.2,14,4,2.4
""",
    "cables": """\
part,area [mm^2],cores,rating [A],voltage_max [V],resistance [ohm/km],mass_per_length [g/m]
CORD,1.5,2,16,500,,86
TWIN,3.3,3,34,60,5.9,88
""",
    "fuses": """\
part,rating [A],voltage_max [V],supply,kind,mass [g]
FUSE,10,32,dc,blade,16
""",
    "connectors": """\
part,rating [A],voltage_max [V],supply,mass [g]
PLUG,15,60,dc,16
""",
    "mounts": """\
part,load [kg],mass [kg]
YOKE,6,0.34
""",
    "offers": """\
part,supplier,price [EUR],pack,quantity_min,stock,lead_time [day],sold_by
BAR,north,4.60,1,,40,2,
BAR,north,4.20,2,10,40,2,each
BAR,own,,,,3,,
CORD,south,0.90,0.5,,100,3,length
STRIP,south,6.20,5,,20,4,length
TUBE,south,7.10,,,,,
""",
    "suppliers": """\
supplier,delivery [EUR],delivery_free_over [EUR],order_min [EUR]
north,4.90,75.00,
south,6.50,,15.00
""",
}


def write(folder: Path, tables: Mapping[str, str | bytes] = TABLES) -> Path:
    """Write tables into a folder, byte for byte, and return the folder."""
    for name, text in tables.items():
        (folder / f"{name}.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def spoilt(text: str, old: str, new: str) -> str:
    """Return the text with one place changed."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the table"
    return text.replace(old, new)


def faults_with(folder: Path, **tables: str | bytes) -> tuple[Fault, ...]:
    """Return the faults of the sound catalogue with some of its tables replaced."""
    return faults_of(write(folder, {**TABLES, **tables}))


def faults_of(folder: Path) -> tuple[Fault, ...]:
    """Return the faults of a folder; none where it is sound."""
    try:
        read_catalogue(folder)
    except InputError as error:
        return error.faults
    return ()
