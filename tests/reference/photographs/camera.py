"""A camera looking at the aperture: shot noise, read noise, full well, steps, vignetting, orientation."""
import math

import numpy as np

from photographs import Disc, rho_azimuth


def frame(size, centre, radius, turn=0.0, flip=False):
    """rho and azimuth in the microscope's own frame of every pixel of a (columns, rows) picture."""
    cols, rows = size
    x, y = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    return rho_azimuth(Disc(centre[0], centre[1], radius), x, y, flip, turn)


def mean_electrons(intensity, exposure, full_well, vignetting, centre, radius, turn, flip, size, background=0.0):
    """Expected electrons per pixel. intensity(rho, azimuth) in full wells per unit exposure."""
    rho, az = frame(size, centre, radius, turn, flip)
    inside = rho <= 1
    edge = np.clip((1.0 - rho) * radius + 0.5, 0, 1)            # a pixel's blur at the rim
    v = intensity(np.minimum(rho, 1.0), az) * (1 - vignetting * rho ** 2)
    return full_well * exposure * (np.where(inside | (edge > 0), v * edge, 0.0) + background)


def render(intensity, exposure, full_well, read_noise, bits, vignetting, centre, radius, turn, flip, seed,
           size=(150, 130), offset=0.0, background=0.0):
    """Counts of `bits` bits (not stretched), uint16, or float for bits = 0 (value in full wells).

    turn in degrees and flip as in the page: they bring the picture to the microscope's frame.
    offset: black level in counts of `bits` bits (full scale for bits = 0)."""
    rng = np.random.default_rng(seed)
    mu = mean_electrons(intensity, exposure, full_well, vignetting, centre, radius, turn, flip, size, background)
    e = np.minimum(rng.poisson(np.maximum(mu, 0)), full_well) + rng.normal(0.0, read_noise, mu.shape)
    if bits == 0:
        return e / full_well + offset
    top = 2 ** bits - 1
    return np.clip(np.floor(e / full_well * top + offset + 0.5), 0, top).astype(np.uint16)


def cross_light(leak, strength, tilt_deg=0.0, uniform=0.0, slow_deg=0.0):
    """An invented crossed-polars aperture: geometry's rho^4 lobes turned by tilt and a uniform strain's light."""
    t, a = math.radians(tilt_deg), math.radians(slow_deg)

    def f(rho, az):
        return leak + (math.sqrt(strength) * rho ** 2 * np.sin(2 * (az - t)) + math.sqrt(uniform) * math.sin(2 * a)) ** 2
    return f


def parallel_light(level, fall=0.15, slope=0.08):
    def f(rho, az):
        return level * (1 - fall * rho ** 2) * (1 + slope * rho * np.cos(az - 0.7))
    return f
