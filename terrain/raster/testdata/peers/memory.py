# Reads the whole raster and interpolates all points at once: the bilinear loop in memory.
# memory.py RASTER POINTS OUT [nearest]
import sys
import numpy as np
import rasterio
from rasterio.warp import transform

path, points, out = sys.argv[1:4]
lon, lat = np.fromfile(points).reshape(-1, 2).T
with rasterio.open(path) as ds:
    x, y = lon, lat
    if ds.crs.is_projected:
        x, y = map(np.asarray, transform("EPSG:4326", ds.crs, lon, lat))
    col, row = ~ds.transform * (x, y)
    z = ds.read(1)
if len(sys.argv) > 4:
    z[np.floor(row).astype(int), np.floor(col).astype(int)].astype(float).tofile(out)
    sys.exit()
col, row = col - 0.5, row - 0.5
c, r = np.floor(col).astype(int), np.floor(row).astype(int)
fx, fy = col - c, row - r
v = ((1 - fy) * ((1 - fx) * z[r, c] + fx * z[r, c + 1])
     + fy * ((1 - fx) * z[r + 1, c] + fx * z[r + 1, c + 1]))
v.astype(float).tofile(out)
