//! Legibility by measure: how large type must be drawn to be read from the saddle on the rider's own screen.
//!
//! Points are not millimetres. The screen's diagonal and the rider's distance from it are asked once; with the
//! monitor's size in points they give millimetres per point, and with the typeface's capital height the least size of
//! type for what is read while riding.

/// The rider's screen and where they sit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screen {
    /// The diagonal of the screen, millimetres; 150 to 3000.
    pub diagonal_mm: f32,
    /// From the eyes to the screen, millimetres; 300 to 5000.
    pub distance_mm: f32,
}
