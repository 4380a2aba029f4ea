"""The parts of `fault_bench.py`."""
