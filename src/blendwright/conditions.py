"""Constants and standard conditions, in SI."""

GAS_CONSTANT_J_mol_K = 8.314462618  # CODATA 2018
ATMOSPHERE_Pa = 101325.0
ROOM_K = 298.15  # 25 °C, where most published values stand
BENCH_C = 20.0  # the bench unless told otherwise; labels, data sheets and glassware stand there too
BENCH_K = 273.15 + BENCH_C
