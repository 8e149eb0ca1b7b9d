"""Constants and standard conditions, in SI."""

GAS_CONSTANT_J_mol_K = 8.314462618  # CODATA 2018
ATMOSPHERE_Pa = 101325.0
ROOM_K = 298.15
BENCH_K = 293.15  # 20 °C, the temperature of labels and data sheets
