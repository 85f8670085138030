//! Orders of interference colours, and the plates that are named after them.

/// One order of interference colours, nm: common practice, no source.
pub const ORDER_NM: f64 = 550.0;
/// Path difference of a first-order plate, nm at [`ORDER_NM`].
pub const FIRST_ORDER_NM: f64 = ORDER_NM;
/// Path difference of a quarter-wave plate, nm at [`ORDER_NM`].
pub const QUARTER_WAVE_NM: f64 = 0.25 * ORDER_NM;
