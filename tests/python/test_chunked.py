"""Sweeps in Dask chunks: the same numbers, piece by piece, within less memory than the whole would take."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import strutsweep as ss
import xarray as xr

TRAVEL = np.linspace(-60.0, 55.0, 7)


@pytest.fixture(scope="module")
def corner() -> ss.Corner:
    return ss.demo("hillclimb_saloon").left


def line(name: str, start: float, stop: float, count: int, chunk: int) -> xr.DataArray:
    return xr.DataArray(np.linspace(start, stop, count), dims=name).chunk({name: chunk})


def test_chunks_in_give_chunks_out_and_compute_nothing_yet(corner: ss.Corner) -> None:
    dataset = ss.sweep(corner, travel=TRAVEL, mount_in=line("mount_in", -20.0, 15.0, 10, 4), places="wheel_centre")
    assert dataset.camber.chunks == ((7,), (4, 4, 2))
    assert dataset.status.chunks == ((7,), (4, 4, 2))
    assert dataset.wheel_centre.chunks == ((3,), (7,), (4, 4, 2))


def test_chunks_have_the_bits_of_the_whole(corner: ss.Corner) -> None:
    # Racks up to where the tie rod runs out, so that some poses of some chunks are out of reach.
    rack = line("rack", -180.0, 170.0, 29, 6)
    mount_in = line("mount_in", -20.0, 15.0, 5, 2)
    pieces = ss.sweep(corner, travel=TRAVEL, rack=rack, mount_in=mount_in, places=["contact_centre"])
    whole = ss.sweep(corner, travel=TRAVEL, rack=rack.compute(), mount_in=mount_in.compute(), places=["contact_centre"])
    assert int((whole.status != 0).sum()) > 0
    xr.testing.assert_identical(pieces.compute(), whole)


def test_paired_samples_and_points_in_chunks(corner: ss.Corner) -> None:
    random = np.random.default_rng(5)
    top = corner.point("strut_top") + random.normal(scale=2.0, size=(11, 3))
    samples = xr.DataArray(top, dims=("sample", "xyz"))
    mount_in = xr.DataArray(random.normal(size=11), dims="sample")
    chunked = ss.sweep(
        corner, travel=TRAVEL, mount_in=mount_in.chunk(sample=4), points={"strut_top": samples.chunk(sample=4)}
    )
    whole = ss.sweep(corner, travel=TRAVEL, mount_in=mount_in, points={"strut_top": samples})
    assert chunked.camber.chunks is not None
    xr.testing.assert_identical(chunked.compute(), whole)


def test_what_is_no_number_is_told_when_its_chunk_is_computed(corner: ss.Corner) -> None:
    values = np.array([0.0, 1.0, np.nan, 3.0])
    dataset = ss.sweep(corner, travel=xr.DataArray(values, dims="sample").chunk(sample=2), readings="camber")
    with pytest.raises(ss.InputError, match="travel = NaN"):
        dataset.compute()


def test_a_result_that_memory_cannot_hold_is_refused_with_its_size_and_the_remedy(
    corner: ss.Corner, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Little:
        available = 10_000_000

    monkeypatch.setattr("psutil.virtual_memory", lambda: Little)
    line_of = np.linspace(-10.0, 10.0, 400)
    with pytest.raises(ss.InputError, match=r"28 MB.*10 MB of memory.*readings=.*Dask"):
        ss.sweep(corner, mount_in=line_of, mount_back=line_of)
    assert ss.sweep(corner, mount_in=line_of, mount_back=line_of, readings="camber").camber.shape == (400, 400)


CLUSTER = """
import resource, sys
import numpy as np, xarray as xr
import strutsweep as ss
from dask.distributed import Client, LocalCluster

def main():
    corner = ss.demo("hillclimb_saloon").left
    # 21 travels x 700 x 700 mounts, six readings: half a gigabyte of result, in pieces of some 5 MB.
    def axis(name, most):
        return xr.DataArray(np.linspace(-most, most, 700), dims=name).chunk({name: 70})
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
                      memory_limit="380MiB") as cluster, Client(cluster) as client:
        dataset = ss.sweep(corner, travel=np.linspace(-60, 60, 21), mount_in=axis("mount_in", 20.0),
                           mount_back=axis("mount_back", 10.0),
                           readings=["camber", "toe", "caster", "kingpin_inclination", "scrub_radius", "half_track"])
        assert dataset.nbytes > 480e6, dataset.nbytes
        dataset.to_zarr(sys.argv[1], consolidated=False)
        used = client.run(lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024)
        print(len(used), max(used.values()))

if __name__ == "__main__":
    main()
"""


def test_a_cluster_of_two_processes_streams_more_than_its_memory(corner: ss.Corner, tmp_path: Path) -> None:
    program = tmp_path / "cluster.py"
    program.write_text(CLUSTER)
    store = tmp_path / "sweep.zarr"
    done = subprocess.run(
        [sys.executable, program, store], capture_output=True, text=True, timeout=240, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr[-3000:]
    workers, most = done.stdout.split()[-2:]
    assert int(workers) == 2
    assert int(most) < 380 * 2**20, "a worker grew beyond its limit"
    with xr.open_zarr(store, consolidated=False) as stored:
        assert stored.camber.shape == (21, 700, 700)
        some: Any = {"mount_in": [0, 351, 699], "mount_back": [3, 400]}
        part = stored.isel(some).compute()
        whole = ss.sweep(corner, travel=part.travel, mount_in=part.mount_in.values, mount_back=part.mount_back.values)
        for name in ("camber", "half_track", "status"):
            np.testing.assert_array_equal(part[name].values, whole[name].values)


def test_a_corner_travels_light() -> None:
    import pickle

    assert len(pickle.dumps(ss.demo("gravel_hatch").left)) < 1000
