"""What was seen in a photo, the residuals of the sheet's corners, and how the photos of a side agree."""

from pathlib import Path

import matplotlib.pyplot as plt

from hubsight import find_sample_job, load_job, load_photo, measure_job, plot, write_overlays

folder = find_sample_job()
measured = measure_job(load_job(folder))
side = measured.sides[0].measurement
seen = side.photos[0]

figure, ((photo, residuals), (agreement, budget)) = plt.subplots(2, 2, figsize=(14, 10), layout="constrained")
plot.plot_photo(seen, load_photo(folder / "drive" / seen.file).pixels, ax=photo)
plot.plot_sheet_residuals(seen, ax=residuals)
plot.plot_agreement(side, ax=agreement)
plot.plot_budget(side.figures["flange_diameter"], ax=budget, title="flange diameter")
figure.savefig("what_a_photo_shows.png")

# The same without matplotlib, as the command line makes them: one marked picture a photo, upright.
pictures = write_overlays(measured, folder, Path("seen"))
print(f"what_a_photo_shows.png and {len(pictures)} pictures in the folder seen written")
