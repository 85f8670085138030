"""Reference of /tmp/spec/photographs.md, written from that page alone. Plain rather than fast.

A picture becomes raw counts (rows, columns, channels); counts become values v; values and exposures become
rates; crossed and parallel rates become zone means, ratio, relative error, or a reason why a zone is left out.
Where the page can be read in two ways the choice taken is marked "CHOICE n" (numbers as in the report).
"""
import math
import struct
import zlib
from dataclasses import dataclass, field

import numpy as np
import tifffile
from PIL import Image


class Refused(Exception):
    """The page says that this is refused."""


# ------------------------------------------------------------------ PNG, both ways (Pillow has no 16-bit RGB)

def _chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bytes(counts, exif=None):
    """counts: uint8 or uint16, (rows, columns) or (rows, columns, channels 1, 2, 3, 4)."""
    a = np.asarray(counts)
    if a.ndim == 2:
        a = a[:, :, None]
    rows, cols, ch = a.shape
    bits = {np.dtype(np.uint8): 8, np.dtype(np.uint16): 16}[a.dtype]
    colour = {1: 0, 2: 4, 3: 2, 4: 6}[ch]
    raw = a.astype(">u2" if bits == 16 else "u1").tobytes()
    line = cols * ch * bits // 8
    body = np.frombuffer(raw, np.uint8).reshape(rows, line)
    up = body.copy()
    up[1:] -= body[:-1]                                   # filter 2, modulo 256
    plain = b"".join(b"\0" + r.tobytes() for r in body)
    upped = b"".join(b"\2" + r.tobytes() for r in up)
    idat = min((zlib.compress(x, 9) for x in (plain, upped)), key=len)
    out = b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", struct.pack(">IIBBBBB", cols, rows, bits, colour, 0, 0, 0))
    if exif:
        out += _chunk(b"eXIf", exif)
    return out + _chunk(b"IDAT", idat) + _chunk(b"IEND", b"")


def exif_block(exposure_s=None, iso=None, f_number=None):
    """A small little-endian TIFF structure: IFD0 -> Exif IFD with exposure time, ISO, f-number (rationals as pairs)."""
    entries = []
    data = b""
    present = [(0x829A, exposure_s), (0x829D, f_number), (0x8827, iso)]
    present = sorted((t, v) for t, v in present if v is not None)
    exif_at = 8 + 2 + 12 + 4
    data_at = exif_at + 2 + 12 * len(present) + 4
    for tag, v in present:
        if tag == 0x8827:
            entries.append(struct.pack("<HHIHH", tag, 3, 1, v, 0))
        else:
            entries.append(struct.pack("<HHII", tag, 5, 1, data_at + len(data)))
            data += struct.pack("<II", *v)
    return (b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, exif_at)
            + struct.pack("<I", 0) + struct.pack("<H", len(present)) + b"".join(entries) + struct.pack("<I", 0) + data)


def read_png(path):
    d = open(path, "rb").read()
    if d[:8] != b"\x89PNG\r\n\x1a\n":
        raise Refused("not a PNG")
    at, idat = 8, b""
    while at < len(d):
        n, kind = struct.unpack(">I4s", d[at:at + 8])
        data = d[at + 8:at + 8 + n]
        at += 12 + n
        if kind == b"IHDR":
            cols, rows, bits, colour, _, _, inter = struct.unpack(">IIBBBBB", data)
        elif kind == b"IDAT":
            idat += data
    if colour not in (0, 2, 4, 6) or bits not in (8, 16) or inter:
        raise Refused("kind of PNG not in this reference")
    ch = {0: 1, 2: 3, 4: 2, 6: 4}[colour]
    bpp = ch * bits // 8
    line = cols * bpp
    raw = zlib.decompress(idat)
    prev = [0] * line
    out = bytearray()
    for r in range(rows):
        f = raw[r * (line + 1)]
        cur = list(raw[r * (line + 1) + 1:(r + 1) * (line + 1)])
        for k in range(line):
            a = cur[k - bpp] if k >= bpp else 0
            b = prev[k]
            c = prev[k - bpp] if k >= bpp else 0
            if f == 0:
                p = 0
            elif f == 1:
                p = a
            elif f == 2:
                p = b
            elif f == 3:
                p = (a + b) // 2
            else:
                e = a + b - c
                p = min((abs(e - a), 0, a), (abs(e - b), 1, b), (abs(e - c), 2, c))[2]
            cur[k] = (cur[k] + p) & 255
        out += bytes(cur)
        prev = cur
    return np.frombuffer(bytes(out), ">u2" if bits == 16 else np.uint8).reshape(rows, cols, ch).astype(np.int64), bits


# ------------------------------------------------------------------ counts

@dataclass
class Picture:
    raw: np.ndarray            # (rows, columns, channels) as in the file, alpha gone
    kind: str                  # "linear16", "curve8", "float"
    exif: float = None         # H from EXIF, None where there is none

    @property
    def full(self):
        return {"linear16": 65535.0, "curve8": 255.0, "float": 1.0}[self.kind]


def exif_exposure(path):
    with Image.open(path) as im:
        tags = im.getexif()
        sub = tags.get_ifd(0x8769)
    get = lambda t: sub.get(t, tags.get(t))
    t = get(0x829A)
    if t is None:
        return None
    iso = get(0x8827)
    if isinstance(iso, tuple):
        iso = iso[0]
    f = get(0x829D)
    iso = 100.0 if iso is None else float(iso)
    f = 1.0 if f is None else float(f)
    return float(t) * iso / 100.0 / f ** 2


def load(path, accept_curves=False):
    path = str(path)
    low = path.lower()
    if low.endswith(".png"):
        raw, bits = read_png(path)
        kind = "linear16" if bits == 16 else "curve8"
    elif low.endswith((".tif", ".tiff")):
        with tifffile.TiffFile(path) as t:
            page = t.pages[0]
            raw = page.asarray()
            if page.planarconfig == 2 and raw.ndim == 3:
                raw = np.moveaxis(raw, 0, -1)
        kind = {"uint16": "linear16", "uint8": "curve8", "float32": "float"}.get(raw.dtype.name)
        if kind is None:
            raise Refused("kind of TIFF")
        raw = raw.astype(np.float64) if kind == "float" else raw.astype(np.int64)
    elif low.endswith((".jpg", ".jpeg")):
        raw = np.asarray(Image.open(path)).astype(np.int64)
        kind = "curve8"
    else:
        raise Refused("kind of file")
    if raw.ndim == 2:
        raw = raw[:, :, None]
    if raw.shape[2] in (2, 4):                              # alpha
        full = {"linear16": 65535, "curve8": 255, "float": 1.0}[kind]
        if (raw[:, :, -1] != full).any():
            raise Refused("alpha that is not opaque")
        raw = raw[:, :, :-1]
    if kind == "curve8" and not accept_curves:
        raise Refused("8-bit picture where curves are not accepted")
    if kind == "float" and not np.isfinite(raw).all():
        raise Refused("a value that is not finite")
    try:
        h = exif_exposure(path)
    except Exception:                                       # float TIFF and such that Pillow does not open
        h = None
    return Picture(raw, kind, h)


def srgb_eotf(s):
    """IEC 61966-2-1."""
    s = np.asarray(s, float)
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4)


def values(pic, dark_counts=0.0):
    if pic.kind == "linear16":
        return (pic.raw - dark_counts) / 65535.0
    if dark_counts:
        # CHOICE 1: the page forbids dark_counts for 8 bits and is silent for float ("as it is"): refused for both
        raise Refused("dark_counts belong to 16-bit pictures")
    if pic.kind == "curve8":
        return srgb_eotf(pic.raw / 255.0)
    return pic.raw.astype(float)


def saturated(pic, saturation=0.98):
    """(rows, columns): any channel at or over `saturation` (CHOICE 2: a fraction of full scale)."""
    return (pic.raw >= saturation * pic.full).any(axis=2)


def black(pic):
    """(rows, columns, channels); CHOICE 3: a float value is black when it is exactly 0."""
    return pic.raw == 0


# ------------------------------------------------------------------ exposure and merging

def exposures(crossed, parallel, crossed_s=None, parallel_s=None):
    """Lists of H. Both from exposure_s or both from EXIF."""
    if (crossed_s is None) != (parallel_s is None):
        raise Refused("crossed and parallel exposures of different kinds")
    if crossed_s is not None:
        if len(crossed_s) != len(crossed) or len(parallel_s) != len(parallel):
            raise Refused("as many exposures as pictures")
        hc, hp = list(crossed_s), list(parallel_s)
    else:
        hc, hp = [p.exif for p in crossed], [p.exif for p in parallel]
    if any(h is None or not h > 0 for h in hc + hp):
        raise Refused("no exposure")
    return hc, hp


def merge(pics, hs, dark_counts=0.0, saturation=0.98):
    """rate (rows, columns, channels) with NaN where saturated in all, and the mask where it exists."""
    shape = pics[0].raw.shape
    num = np.zeros(shape)
    den = np.zeros(shape[:2])
    for p, h in zip(pics, hs):
        ok = ~saturated(p, saturation)
        num += np.where(ok[:, :, None], values(p, dark_counts), 0.0)
        den += np.where(ok, h, 0.0)
    exists = den > 0
    rate = np.full(shape, np.nan)
    rate[exists] = num[exists] / den[exists][:, None]
    return rate, exists


# ------------------------------------------------------------------ disc, orientation, zones

@dataclass
class Disc:
    cx: float
    cy: float
    a: float
    b: float = None
    t: float = 0.0            # radians, counter-clockwise as seen

    def __post_init__(self):
        if self.b is None:
            self.b = self.a
        if self.a > 1.03 * self.b:     # CHOICE 4: "more than 3 %" is a / b > 1.03
            raise Refused("camera tilted")


def normalised(disc, x, y):
    dx = x - disc.cx
    dy = -(y - disc.cy)
    ct, st = math.cos(disc.t), math.sin(disc.t)
    along = dx * ct + dy * st
    across = -dx * st + dy * ct
    p, q = along / disc.a, across / disc.b
    return p * ct - q * st, p * st + q * ct


def rho_azimuth(disc, x, y, flip=False, turn_deg=0.0):
    X, Y = normalised(disc, np.asarray(x, float), np.asarray(y, float))
    rho = np.hypot(X, Y)
    if flip:
        X = -X
    az = np.mod(np.arctan2(Y, X) + math.radians(turn_deg), 2 * math.pi)
    return rho, np.where(az >= 2 * math.pi, 0.0, az)


def zone_of(rho, az, rings=5, sectors=16):
    """Zone number, -1 outside (CHOICE 5: w < 1 decides, so that rho = 0.98 itself is outside)."""
    w = (rho / 0.98) ** 2
    ring = np.floor(w * rings).astype(int)
    sector = np.minimum(np.floor(az / (2 * math.pi) * sectors).astype(int), sectors - 1)
    return np.where(w < 1, ring * sectors + sector, -1)


def zone_map(shape, disc, rings=5, sectors=16, flip=False, turn_deg=0.0):
    rows, cols = shape[:2]
    x = np.arange(cols)[None, :] + 0.5
    y = np.arange(rows)[:, None] + 0.5
    x, y = np.broadcast_arrays(x, y)
    rho, az = rho_azimuth(disc, x, y, flip, turn_deg)
    return zone_of(rho, az, rings, sectors)


def border_margin(shape, disc, rings, sectors, flip, turn_deg):
    """How far the nearest pixel centre stays from a zone border: (in w R, in azimuth S / 2 pi)."""
    rows, cols = shape[:2]
    x, y = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    rho, az = rho_azimuth(disc, x, y, flip, turn_deg)
    u = (rho / 0.98) ** 2 * rings
    s = az / (2 * math.pi) * sectors
    near = u < rings + 1
    d = lambda v: float(np.min(np.abs(v[near] - np.round(v[near]))))
    return min(d(u), 1.0), d(s)


# ------------------------------------------------------------------ the whole

FEW, DARK, NO_LIGHT = "few_pixels", "too_dark", "no_light"


@dataclass
class Zone:
    zone: int
    ring: int
    sector: int
    channel: int
    pixels: int                 # pixel centres of the picture inside the zone
    n: int                      # pixels that count
    expected: float
    black: int                  # of n, black in the longest crossed exposure
    crossed: float = None
    parallel: float = None
    ratio: float = None
    rel_error: float = None
    s_crossed: float = None
    s_parallel: float = None
    quantised: bool = False
    left_out: str = None


def neighbour_noise(rate, zones, counts, z):
    """s from pairs (i, j), (i + 1, j) of zone z that both count; (rows, columns) rate of one channel."""
    m = (zones == z) & counts
    pair = m[:, 1:] & m[:, :-1]
    if pair.any():
        d = (rate[:, 1:] - rate[:, :-1])[pair]
        return math.sqrt(float(np.mean(d ** 2)) / 2.0)
    v = rate[m]
    return float(np.std(v, ddof=1)) if v.size > 1 else 0.0   # CHOICE 6: n - 1


def analyse(crossed, parallel, hc, hp, disc, rings=5, sectors=16, dark_counts=0.0, saturation=0.98, flip=False,
            turn_deg=0.0, count_step=1.0):
    """count_step is not in the page: the camera's own step in 16-bit counts, used by coverage.py to show what the rule lacks."""
    shapes = {p.raw.shape for p in crossed + parallel}
    if len(shapes) != 1:
        raise Refused("pictures of a line differ in size or number of channels")
    shape = shapes.pop()
    rc, ec = merge(crossed, hc, dark_counts, saturation)
    rp, ep = merge(parallel, hp, dark_counts, saturation)
    counts = ec & ep
    zones = zone_map(shape, disc, rings, sectors, flip, turn_deg)
    longest = int(np.argmax(hc))
    blk = black(crossed[longest])                            # CHOICE 7: black in the longest crossed exposure, per channel
    # CHOICE 8: one count = 1 / 65535 unless all crossed pictures are float; all exposures in the sum
    q = 0.0 if all(p.kind == "float" for p in crossed) else count_step / 65535.0 / sum(hc)
    expected = math.pi * disc.a * disc.b * 0.98 ** 2 / (rings * sectors)
    out = []
    for ch in range(shape[2]):
        for z in range(rings * sectors):
            inside = zones == z
            m = inside & counts
            n = int(m.sum())
            r = Zone(z, z // sectors, z % sectors, ch, int(inside.sum()), n, expected, int(blk[:, :, ch][m].sum()))
            if n:
                r.crossed = float(rc[:, :, ch][m].mean())
                r.parallel = float(rp[:, :, ch][m].mean())
                r.s_crossed = neighbour_noise(rc[:, :, ch], zones, counts, z)
                r.s_parallel = neighbour_noise(rp[:, :, ch], zones, counts, z)
            if n < 0.5 * expected or n < 16:
                r.left_out = FEW
            elif r.black > 0.05 * n:
                r.left_out = DARK
            elif r.crossed <= 0 or r.parallel <= 0:
                r.left_out = NO_LIGHT
            else:
                r.ratio = r.parallel / r.crossed
                e2 = r.s_crossed ** 2 / (n * r.crossed ** 2) + r.s_parallel ** 2 / (n * r.parallel ** 2)
                if r.s_crossed < 0.5 * q:
                    e2 += (0.29 * q / r.crossed) ** 2
                    r.quantised = True
                r.rel_error = math.sqrt(e2)
            out.append(r)
    return out


def tallies(pic, disc, saturation=0.98):
    """Saturated pixels and black pixels per channel, over the whole frame and inside rho <= 0.98 (CHOICE 9: both told)."""
    rows, cols = pic.raw.shape[:2]
    x, y = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    rho, _ = rho_azimuth(disc, x, y)
    inside = (rho / 0.98) ** 2 < 1
    s, b = saturated(pic, saturation), black(pic)
    return {"saturated": int(s.sum()), "saturated_in_disc": int((s & inside).sum()),
            "black": [int(b[:, :, k].sum()) for k in range(b.shape[2])],
            "black_in_disc": [int((b[:, :, k] & inside).sum()) for k in range(b.shape[2])]}
