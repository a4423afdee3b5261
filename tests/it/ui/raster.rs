//! Pictures without a GPU: the window's own triangles, filled on the CPU, and written as PNG.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use egui::epaint::{ClippedPrimitive, ImageData, Primitive, Vertex};
use egui::{Color32, TextureId, TexturesDelta};
use egui_kittest::TestRenderer;

/// The textures that the window has made so far.
#[derive(Clone, Default)]
pub struct Textures(Rc<RefCell<HashMap<TextureId, Texture>>>);

/// Its width and height, and its pixels row by row.
type Texture = ([usize; 2], Vec<Color32>);

impl TestRenderer for Textures {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        let mut kept = self.0.borrow_mut();
        for (id, change) in std::mem::take(&mut delta.set).into_iter() {
            for change in change {
                let ImageData::Color(image) = &change.image;
                let [width, height] = image.size;
                match change.pos {
                    None => {
                        kept.insert(id, (image.size, image.pixels.clone()));
                    }
                    Some([left, top]) => {
                        let (size, pixels) = kept.get_mut(&id).unwrap();
                        for y in 0..height {
                            let to = (top + y) * size[0] + left;
                            pixels[to..to + width]
                                .copy_from_slice(&image.pixels[y * width..(y + 1) * width]);
                        }
                    }
                }
            }
        }
        for id in std::mem::take(&mut delta.free) {
            kept.remove(&id);
        }
    }
}

/// A picture, its pixels premultiplied as egui's are.
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<Color32>,
}

impl Picture {
    /// Fills the triangles of one frame, in their order; `dots` is how many pixels a point has.
    pub fn of(
        size: [usize; 2],
        primitives: &[ClippedPrimitive],
        textures: &Textures,
        dots: f32,
    ) -> Self {
        let mut picture = Self {
            width: size[0],
            height: size[1],
            pixels: vec![Color32::BLACK; size[0] * size[1]],
        };
        let textures = textures.0.borrow();
        for primitive in primitives {
            let Primitive::Mesh(mesh) = &primitive.primitive else {
                continue;
            };
            let texture = &textures[&mesh.texture_id];
            for corners in mesh.indices.chunks_exact(3) {
                let corners = [0, 1, 2].map(|n| {
                    let corner = mesh.vertices[corners[n] as usize];
                    Vertex {
                        pos: corner.pos * dots,
                        ..corner
                    }
                });
                picture.triangle(corners, primitive.clip_rect * dots, texture);
            }
        }
        picture
    }

    fn triangle(&mut self, [a, b, c]: [Vertex; 3], clip: egui::Rect, (size, texels): &Texture) {
        let cross = |p: egui::Pos2, q: egui::Pos2, r: egui::Pos2| {
            (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x)
        };
        let area = cross(a.pos, b.pos, c.pos);
        if area == 0.0 {
            return;
        }
        let bounds = egui::Rect::from_points(&[a.pos, b.pos, c.pos]).intersect(clip);
        let (left, right) = (
            bounds.left().max(0.0) as usize,
            bounds.right().ceil().max(0.0) as usize,
        );
        let (top, bottom) = (
            bounds.top().max(0.0) as usize,
            bounds.bottom().ceil().max(0.0) as usize,
        );
        for y in top..bottom.min(self.height) {
            for x in left..right.min(self.width) {
                let at = egui::pos2(x as f32 + 0.5, y as f32 + 0.5);
                let w = [
                    cross(b.pos, c.pos, at) / area,
                    cross(c.pos, a.pos, at) / area,
                    cross(a.pos, b.pos, at) / area,
                ];
                // The half-open rule: a pixel on a shared edge belongs to one triangle only, near enough.
                if w.iter().any(|&share| share < 0.0) || !clip.contains(at) {
                    continue;
                }
                let mix =
                    |pick: fn(&Vertex) -> f32| w[0] * pick(&a) + w[1] * pick(&b) + w[2] * pick(&c);
                let texel = {
                    let u = (mix(|v| v.uv.x) * size[0] as f32) as usize;
                    let v = (mix(|v| v.uv.y) * size[1] as f32) as usize;
                    texels[v.min(size[1] - 1) * size[0] + u.min(size[0] - 1)]
                };
                let source = [
                    mix(|v| f32::from(v.color.r())) * f32::from(texel.r()) / 255.0,
                    mix(|v| f32::from(v.color.g())) * f32::from(texel.g()) / 255.0,
                    mix(|v| f32::from(v.color.b())) * f32::from(texel.b()) / 255.0,
                ];
                let alpha = mix(|v| f32::from(v.color.a())) * f32::from(texel.a()) / 255.0;
                let under = &mut self.pixels[y * self.width + x];
                let over = |n: usize, below: u8| {
                    (source[n] + f32::from(below) * (1.0 - alpha / 255.0)).round() as u8
                };
                *under =
                    Color32::from_rgb(over(0, under.r()), over(1, under.g()), over(2, under.b()));
            }
        }
    }

    /// How many pixels have exactly this colour.
    pub fn count(&self, colour: Color32) -> usize {
        self.pixels.iter().filter(|&&pixel| pixel == colour).count()
    }

    /// As a PNG file.
    pub fn png(&self) -> Vec<u8> {
        let mut file = Vec::new();
        let mut encoder = png::Encoder::new(&mut file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let octets: Vec<u8> = self
            .pixels
            .iter()
            .flat_map(|pixel| [pixel.r(), pixel.g(), pixel.b()])
            .collect();
        let mut writer = encoder.write_header().unwrap();
        writer.write_image_data(&octets).unwrap();
        writer.finish().unwrap();
        file
    }
}
