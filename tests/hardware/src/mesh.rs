//! The printed parts as triangles, and what stands in a ray's way.

use std::collections::BTreeMap;

/// A point or a direction, mm.
pub type Point = [f64; 3];

/// A surface.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh(pub Vec<[Point; 3]>);

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: Point, b: Point) -> Point {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

impl Mesh {
    /// Reads a binary STL file.
    ///
    /// # Errors
    /// It is none.
    pub fn parse(bytes: &[u8]) -> Result<Self, String> {
        let count =
            bytes.get(80..84).and_then(|count| count.try_into().ok()).map(u32::from_le_bytes);
        let count = count.ok_or("shorter than its header")? as usize;
        let body = &bytes[84..];
        if body.len() != count * 50 {
            return Err(format!("{count} triangles in {} bytes", body.len()));
        }
        let number = |at: &[u8]| at.try_into().map(f32::from_le_bytes).map_or(f64::NAN, f64::from);
        let triangle = |record: &[u8]| {
            let mut corners = [[0.0; 3]; 3];
            for (i, value) in record[12..48].chunks_exact(4).enumerate() {
                corners[i / 3][i % 3] = number(value);
            }
            corners
        };
        Ok(Self(body.chunks_exact(50).map(triangle).collect()))
    }

    /// Every edge between exactly two triangles, which run along it in opposite senses.
    pub fn is_closed(&self) -> bool {
        let key = |p: Point| p.map(|value| (value * 1e5).round() as i64);
        let mut edges: BTreeMap<([i64; 3], [i64; 3]), i32> = BTreeMap::new();
        for corners in &self.0 {
            for (a, b) in [(0, 1), (1, 2), (2, 0)] {
                let (a, b) = (key(corners[a]), key(corners[b]));
                if a != b {
                    *edges.entry((a, b)).or_default() += 1;
                }
            }
        }
        !edges.is_empty() && edges.iter().all(|((a, b), n)| edges.get(&(*b, *a)) == Some(n))
    }

    /// Of what it encloses, mm3: negative when it is inside out.
    pub fn volume(&self) -> f64 {
        self.0.iter().map(|[a, b, c]| dot(*a, cross(*b, *c)) / 6.0).sum()
    }

    /// Every corner.
    pub fn corners(&self) -> impl Iterator<Item = Point> + '_ {
        self.0.iter().flatten().copied()
    }

    /// Turned about the board normal, clockwise as azimuths are, and then moved.
    #[must_use]
    pub fn turned(&self, azimuth_deg: f64, to: Point) -> Self {
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let place =
            |[x, y, z]: Point| [x * cos + y * sin + to[0], y * cos - x * sin + to[1], z + to[2]];
        Self(self.0.iter().map(|corners| corners.map(place)).collect())
    }

    /// How far along a ray of unit length it is met first (Möller and Trumbore, 1997).
    pub fn met(&self, from: Point, along: Point) -> Option<f64> {
        let met = |[a, b, c]: &[Point; 3]| {
            let (ab, ac) = (minus(*b, *a), minus(*c, *a));
            let p = cross(along, ac);
            let area = dot(ab, p);
            if area.abs() < 1e-12 {
                return None;
            }
            let s = minus(from, *a);
            let q = cross(s, ab);
            let (u, v) = (dot(s, p) / area, dot(along, q) / area);
            let inside = u >= 0.0 && v >= 0.0 && u + v <= 1.0;
            inside.then_some(dot(ac, q) / area).filter(|distance| *distance > 1e-6)
        };
        self.0.iter().filter_map(met).min_by(f64::total_cmp)
    }
}
