//! How others see a picture: from far away and out of focus, and without one of the three kinds of cone.

use egui::Color32;

use super::raster::Picture;

/// A way of looking at a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// As it is.
    Plain,
    /// At a quarter of its size and out of focus: what is left of it in a glance from far away.
    Glance,
    /// Without the cones for long waves.
    Protanopia,
    /// Without the cones for middle waves.
    Deuteranopia,
    /// Without the cones for short waves.
    Tritanopia,
    /// Without colours.
    Achromatopsia,
}

/// Rows for red, green and blue, on linear light.
type Matrix = [[f64; 3]; 3];

/// G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
/// Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6), 2009: the table for severity 1.0.
const PROTANOPIA: Matrix = [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
];
const DEUTERANOPIA: Matrix = [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.011820, 0.042940, 0.968881],
];
const TRITANOPIA: Matrix = [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.303900],
];
/// Relative luminance, ITU-R BT.709, as WCAG 2.2 has it too.
const ACHROMATOPSIA: Matrix = [[0.2126, 0.7152, 0.0722]; 3];

/// How many times smaller a glance is, along each side.
const SMALLER: usize = 4;

impl View {
    /// All, with the name that a file gets.
    pub const ALL: [(&'static str, Self); 6] = [
        ("plain", Self::Plain),
        ("glance", Self::Glance),
        ("protanopia", Self::Protanopia),
        ("deuteranopia", Self::Deuteranopia),
        ("tritanopia", Self::Tritanopia),
        ("achromatopsia", Self::Achromatopsia),
    ];

    /// The picture seen so.
    pub fn of(self, picture: &Picture) -> Picture {
        let matrix = match self {
            Self::Plain => return with(picture, |pixel| pixel),
            Self::Glance => return blurred(&smaller(picture)),
            Self::Protanopia => &PROTANOPIA,
            Self::Deuteranopia => &DEUTERANOPIA,
            Self::Tritanopia => &TRITANOPIA,
            Self::Achromatopsia => &ACHROMATOPSIA,
        };
        with(picture, |pixel| through(matrix, pixel))
    }
}

fn with(picture: &Picture, change: impl Fn(Color32) -> Color32) -> Picture {
    Picture {
        width: picture.width,
        height: picture.height,
        pixels: picture.pixels.iter().map(|&pixel| change(pixel)).collect(),
    }
}

/// From an octet to linear light, IEC 61966-2-1.
fn linear(octet: u8) -> f64 {
    let coded = f64::from(octet) / 255.0;
    if coded <= 0.04045 {
        coded / 12.92
    } else {
        ((coded + 0.055) / 1.055).powf(2.4)
    }
}

/// And back; what lies outside of what a screen shows is cut off.
fn coded(light: f64) -> u8 {
    let light = light.clamp(0.0, 1.0);
    let coded = if light <= 0.003_130_8 {
        light * 12.92
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    };
    (coded * 255.0).round() as u8
}

fn lights(pixel: Color32) -> [f64; 3] {
    [linear(pixel.r()), linear(pixel.g()), linear(pixel.b())]
}

fn pixel(lights: [f64; 3]) -> Color32 {
    let [r, g, b] = lights.map(coded);
    Color32::from_rgb(r, g, b)
}

fn through(matrix: &Matrix, seen: Color32) -> Color32 {
    let light = lights(seen);
    pixel(matrix.map(|row| row[0] * light[0] + row[1] * light[1] + row[2] * light[2]))
}

/// The mean of light of the pixels that `at` names.
fn mean(picture: &Picture, at: impl Iterator<Item = (usize, usize)>) -> Color32 {
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for (x, y) in at {
        let light = lights(picture.pixels[y * picture.width + x]);
        for (sum, light) in sum.iter_mut().zip(light) {
            *sum += light;
        }
        count += 1.0;
    }
    pixel(sum.map(|sum| sum / count))
}

fn smaller(picture: &Picture) -> Picture {
    let (width, height) = (picture.width / SMALLER, picture.height / SMALLER);
    let cell = |x: usize, y: usize| {
        (0..SMALLER * SMALLER).map(move |n| (x * SMALLER + n % SMALLER, y * SMALLER + n / SMALLER))
    };
    Picture {
        width,
        height,
        pixels: (0..width * height)
            .map(|n| mean(picture, cell(n % width, n / width)))
            .collect(),
    }
}

/// Twice the mean over three by three pixels: near enough a Gaussian of 1.15 pixels, or 4.6 of the whole picture.
fn blurred(picture: &Picture) -> Picture {
    let once = |picture: &Picture| {
        let (width, height) = (picture.width, picture.height);
        let around = |x: usize, y: usize| {
            let columns = x.saturating_sub(1)..(x + 2).min(width);
            (y.saturating_sub(1)..(y + 2).min(height))
                .flat_map(move |y| columns.clone().map(move |x| (x, y)))
        };
        Picture {
            width,
            height,
            pixels: (0..width * height)
                .map(|n| mean(picture, around(n % width, n / width)))
                .collect(),
        }
    };
    once(&once(picture))
}

/// Expected octets from colorspacious 1.1.2 (`cspace_convert` from `sRGB1+CVD` at severity 100 to `sRGB1`), another's
/// program after the same paper.
#[test]
fn the_views_are_those_of_another_program() {
    let seen: [(u32, [[u8; 3]; 3]); 9] = [
        // Colour, then without long, middle and short.
        (0xe69f00, [[185, 162, 0], [202, 180, 17], [251, 140, 135]]),
        (0x56b4e9, [[155, 179, 236], [135, 164, 232], [0, 194, 198]]),
        (0xff0000, [[109, 95, 0], [163, 144, 0], [255, 0, 15]]),
        (0x00ff00, [[255, 229, 0], [239, 214, 58], [0, 247, 217]]),
        (0x0000ff, [[0, 89, 255], [0, 62, 251], [0, 107, 150]]),
        (0x7d3c00, [[79, 69, 0], [95, 84, 0], [138, 45, 50]]),
        (0x004f85, [[52, 82, 135], [31, 71, 132], [0, 92, 99]]),
        (
            0xc3c9d1,
            [[198, 201, 209], [197, 200, 209], [192, 203, 203]],
        ),
        (0x131518, [[20, 21, 24], [20, 21, 24], [18, 22, 22]]),
    ];
    for (colour, expected) in seen {
        let [_, r, g, b] = colour.to_be_bytes();
        let picture = Picture {
            width: 1,
            height: 1,
            pixels: vec![Color32::from_rgb(r, g, b)],
        };
        let views = [View::Protanopia, View::Deuteranopia, View::Tritanopia];
        for (view, expected) in views.into_iter().zip(expected) {
            let [r, g, b, _] = view.of(&picture).pixels[0].to_array();
            // Theirs has its own rounding of the transfer function's constants.
            let off = [r, g, b]
                .into_iter()
                .zip(expected)
                .map(|(ours, theirs)| ours.abs_diff(theirs))
                .max();
            assert!(
                off <= Some(1),
                "{colour:06x} by {view:?}: {:?}, not {expected:?}",
                [r, g, b]
            );
        }
    }
}

/// Hand reckoning: sRGB 188 is light 0.5029, near enough half of white's; grey has no colour to lose.
#[test]
fn light_is_mixed_and_grey_stays_grey() {
    let chequered = Picture {
        width: 8,
        height: 8,
        pixels: (0..64)
            .map(|n| {
                if (n + n / 8) % 2 == 0 {
                    Color32::WHITE
                } else {
                    Color32::BLACK
                }
            })
            .collect(),
    };
    let glance = View::Glance.of(&chequered);
    assert_eq!((glance.width, glance.height), (2, 2));
    assert!(
        glance.pixels.iter().all(|p| *p == Color32::from_gray(188)),
        "{:?}",
        glance.pixels
    );
    for grey in [0, 1, 40, 128, 200, 255] {
        let picture = Picture {
            width: 1,
            height: 1,
            pixels: vec![Color32::from_gray(grey)],
        };
        for (name, view) in View::ALL.iter().filter(|(_, view)| *view != View::Glance) {
            let off = view.of(&picture).pixels[0]
                .to_array()
                .map(|octet| octet.abs_diff(grey));
            assert!(
                off[..3].iter().all(|off| *off <= 1),
                "{grey} by {name}: {off:?}"
            );
        }
    }
    // Pure green has a relative luminance of 0.7152, which is octet 220.
    let green = Picture {
        width: 1,
        height: 1,
        pixels: vec![Color32::GREEN],
    };
    assert_eq!(
        View::Achromatopsia.of(&green).pixels[0],
        Color32::from_gray(220)
    );
}
