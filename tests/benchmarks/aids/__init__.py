"""What the benchmarks measure with: terminals, the smallest apps, a record of many sets."""
