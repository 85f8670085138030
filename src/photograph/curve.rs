//! The curve of sRGB, which pictures of 8 bits are taken to have gone through.

/// Light of an sRGB value, both from 0 to 1 (IEC 61966-2-1).
pub(super) fn eotf(value: f64) -> f64 {
    if value <= 0.04045 {
        value / 12.92
    } else {
        crate::math::pow((value + 0.055) / 1.055, 2.4)
    }
}

/// What one more count of an 8-bit picture is worth where its light is `light`, full scale 1: the slope of the sRGB curve over 255.
pub(super) fn eight_bit_step(light: f64) -> f64 {
    let light = light.clamp(0.0, 1.0);
    let slope = if light <= 0.04045 / 12.92 {
        1.0 / 12.92
    } else {
        2.4 / 1.055 * crate::math::pow(light, 1.4 / 2.4)
    };
    slope / 255.0
}
