"""Measure the sample job: a folder with photos of both sides and a job file with what is known of the hub."""

from hubsight import find_sample_job, load_job, measure_job

measured = measure_job(load_job(find_sample_job()))

for side in measured.sides:
    print(f"\n{side.name}")
    if side.measurement is None:  # what cannot be measured is refused, with the reason and the remedy
        print(side.refusal.sentence())
        continue
    for name, figure in side.measurement.figures.items():
        print(f"  {name:22} {figure.value:7.2f} ± {figure.u:.2f} {figure.unit}  {figure.confidence}")
    for warning in side.measurement.warnings:
        print(f"  warning: {warning}")
