//! A ride made by hand behind the window: it shows what it is given and writes down what it is told.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use egui_kittest::Harness;
use egui_kittest::kittest::NodeT as _;
use stillroad::app::{App, Ride, Shelf};
use stillroad::engine::{Command, Snapshot};
use stillroad::time::Instant;
use stillroad::ui::legibility::Sight;

use super::raster::{Picture, Textures};
use super::states;

/// What the test holds of it.
#[derive(Clone)]
pub struct Hand {
    pub shown: Rc<RefCell<Arc<Snapshot>>>,
    pub told: Rc<RefCell<Vec<Command>>>,
    pub now: Rc<Cell<Instant>>,
}

impl Hand {
    pub fn new(snapshot: Snapshot) -> Self {
        Self {
            now: Rc::new(Cell::new(snapshot.at)),
            shown: Rc::new(RefCell::new(Arc::new(snapshot))),
            told: Rc::default(),
        }
    }

    pub fn show(&self, snapshot: Snapshot) {
        *self.shown.borrow_mut() = Arc::new(snapshot);
    }

    /// What was told since this was last asked.
    pub fn told(&self) -> Vec<Command> {
        self.told.take()
    }
}

impl Ride for Hand {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        Arc::clone(&self.shown.borrow())
    }

    fn now(&self) -> Instant {
        self.now.get()
    }

    fn command(&mut self, command: Command) {
        self.told.borrow_mut().push(command);
    }
}

pub fn shelf() -> Shelf {
    Shelf {
        sessions: vec![
            ("first.toml".into(), Arc::new(states::steady_plan())),
            ("sprints.toml".into(), Arc::new(states::sprint_plan())),
        ],
        riders: vec![Arc::new(states::rider()), Arc::default()],
        troubles: Vec::new(),
    }
}

/// A window of a size over a snapshot, after its first frames; what it said at the start is forgotten.
pub struct Window {
    pub harness: Harness<'static, App>,
    pub hand: Hand,
    textures: Textures,
    size: [usize; 2],
    points_per_pixel: f32,
}

impl Window {
    pub fn open(snapshot: Snapshot, width: usize, height: usize) -> Self {
        Self::seen(snapshot, width, height, 1.0, Sight::default())
    }

    /// The same on a screen with so many dots a point, for a rider who sees like this.
    pub fn seen(snapshot: Snapshot, width: usize, height: usize, dots: f32, sight: Sight) -> Self {
        let hand = Hand::new(snapshot);
        let textures = Textures::default();
        let ride = hand.clone();
        let mut harness = Harness::builder()
            .with_size(egui::vec2(width as f32, height as f32))
            .with_pixels_per_point(dots)
            .renderer(textures.clone())
            .build_eframe(move |cc| {
                let mut app = App::new(cc, Box::new(ride), shelf());
                app.set_sight(sight);
                app
            });
        harness.run_steps(3);
        hand.told();
        Self {
            harness,
            hand,
            textures,
            size: [width, height].map(|side| (side as f32 * dots) as usize),
            points_per_pixel: 1.0 / dots,
        }
    }

    pub fn press(&mut self, key: egui::Key) {
        self.harness.key_press(key);
        self.harness.run_steps(2);
    }

    /// What the screen shows now.
    pub fn picture(&mut self) -> Picture {
        self.harness.step();
        let output = self.harness.output();
        let mut meshes = self
            .harness
            .ctx
            .tessellate(output.shapes.clone(), output.pixels_per_point);
        for clipped in &mut meshes {
            clipped.clip_rect = clipped.clip_rect / self.points_per_pixel;
            if let egui::epaint::Primitive::Mesh(mesh) = &mut clipped.primitive {
                for vertex in &mut mesh.vertices {
                    vertex.pos = (vertex.pos.to_vec2() / self.points_per_pixel).to_pos2();
                }
            }
        }
        Picture::of(self.size, &meshes, &self.textures)
    }

    /// Every text that is painted now, with its size and where it may be seen.
    pub fn drawn(&mut self) -> Vec<Drawn> {
        self.harness.step();
        let mut drawn = Vec::new();
        for clipped in &self.harness.output().shapes {
            collect(&clipped.shape, clipped.clip_rect, &mut drawn);
        }
        drawn
    }

    /// Every text that is painted now, with the rectangle of its ink.
    pub fn texts(&mut self) -> Vec<(String, egui::Rect)> {
        let drawn = self.drawn().into_iter();
        drawn.map(|text| (text.words, text.ink)).collect()
    }

    /// Every text that is painted now, and every value that a screen reader is given.
    pub fn words(&mut self) -> Vec<String> {
        let mut words: Vec<String> = self.texts().into_iter().map(|(words, _)| words).collect();
        let nodes = self.harness.root().children_recursive();
        words.extend(nodes.filter_map(|node| node.accesskit_node().value()));
        words
    }
}

/// One text as it is painted.
pub struct Drawn {
    pub words: String,
    /// The rectangle of its ink, points.
    pub ink: egui::Rect,
    /// The largest size of its type, points.
    pub size: f32,
    /// Where it may be seen.
    pub clip: egui::Rect,
}

fn collect(shape: &egui::Shape, clip: egui::Rect, drawn: &mut Vec<Drawn>) {
    match shape {
        egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, clip, drawn)),
        egui::Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            let sections = text.galley.job.sections.iter();
            drawn.push(Drawn {
                words: text.galley.text().to_owned(),
                ink: text.galley.mesh_bounds.translate(text.pos.to_vec2()),
                size: sections
                    .map(|part| part.format.font_id.size)
                    .fold(0.0, f32::max),
                clip,
            });
        }
        _ => {}
    }
}
