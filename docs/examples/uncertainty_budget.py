"""What the uncertainty of an offset and of a spoke length consists of, and where the spoke's end will lie."""

import matplotlib.pyplot as plt

from hubsight import find_sample_job, load_job, measure_job, plot

side = measure_job(load_job(find_sample_job())).side("drive")
lengths = side.spoke_lengths

figure, (offset, length, end) = plt.subplots(3, figsize=(8, 11), layout="constrained")
plot.plot_budget(side.measurement.figures["spoke_offset"], ax=offset, title="spoke offset")
plot.plot_budget(lengths.length, ax=length, title="spoke length")
plot.plot_spoke_end(lengths.order, ax=end)
figure.savefig("uncertainty_budget.png")
print("uncertainty_budget.png written")
