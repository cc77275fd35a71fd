use super::*;
use crate::marks;

const IMAGE: Image = Image::mm(2025.0, 1265.6);

fn taps() -> Vec<Tap> {
    let rows = include_str!("../../tests/data/map_taps.csv").lines().skip(1);
    rows.map(|row| {
        let cells: Vec<f64> = row.split(',').map(|cell| cell.parse().unwrap()).collect();
        let (mark, round) = (cells[0] as u8, cells[1] as u8);
        let at = marks::at(IMAGE, 0.05, mark).unwrap();
        Tap { mark, round, at, off: [cells[2], cells[3]] }
    })
    .collect()
}

/// `tests/data/map_reference.py`: numpy's least squares of both axes as one problem, scipy's t
/// quantile. Values and covariance are those; what is told is never surer than they are, since it
/// counts as well what a straight map with scatter alone does not know.
#[test]
fn the_map_is_that_of_numpy() {
    let map = Map::of(IMAGE, &taps(), Mm(2.0)).unwrap();
    assert!(map.bent.is_empty() && !map.uneven && map.moved.is_none());
    let told = |value: f64, u: f64, expanded: f64| [value, u, expanded];
    let mut found: Vec<[f64; 3]> =
        [map.right, map.up].iter().map(|v| told(v.value.0, v.u.0, v.expanded.0)).collect();
    let slopes = [map.scale_across, map.scale_down, map.turn, map.shear];
    found.extend(slopes.iter().map(|v| told(v.value.0, v.u.0, v.expanded.0)));
    let of = |at: usize| map.covariance()[(at, at)];
    let (offset, both) = ((of(0) + 2.0_f64.powi(2)).sqrt(), (of(1) + of(2)).sqrt());
    let u = [offset, offset, of(1).sqrt(), of(2).sqrt(), both / 2.0, both];
    let rows = include_str!("../../tests/data/map_numpy.csv").lines().skip(1);
    let rows: Vec<Vec<&str>> = rows.map(|row| row.split(',').collect()).collect();
    for ((row, told), u) in rows.iter().zip(&found).zip(u) {
        let numpy: Vec<f64> = row[1..].iter().map(|cell| cell.parse().unwrap()).collect();
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9 * a.abs().max(1.0);
        assert!(near(numpy[0], told[0]), "{}: {told:?}", row[0]);
        assert!(near(numpy[1], u), "{}: {u}", row[0]);
        assert!(told[1] >= numpy[1] && told[2] >= numpy[2], "{}: {told:?} {numpy:?}", row[0]);
        assert!(told[2] <= 1.3 * numpy[2], "{}: {told:?} {numpy:?}", row[0]);
    }
    let scatter: f64 = rows[6][1].parse().unwrap();
    assert!((map.scatter.0 - scatter).abs() < 1e-9);
    assert_eq!(map.dof, 72.0);
}

#[test]
fn one_bent_mark_is_named_and_leaves_the_map_alone() {
    let straight = Map::of(IMAGE, &taps(), Mm(2.0)).unwrap();
    let mut bent = taps();
    for tap in bent.iter_mut().filter(|tap| tap.mark == 7) {
        tap.off[1] += 15.0;
    }
    let map = Map::of(IMAGE, &bent, Mm(2.0)).unwrap();
    assert_eq!(map.bent.iter().map(|bent| bent.mark).collect::<Vec<_>>(), [7]);
    let right = marks::at(IMAGE, 0.05, 7).unwrap();
    let moved = map.error(right).up_mm - straight.error(right).up_mm;
    assert!(moved.abs() < 2.5, "the map without it: {moved}");
}

#[test]
fn too_few_marks_or_marks_in_a_line_give_no_map() {
    let few: Vec<Tap> = taps().into_iter().filter(|tap| tap.mark < 4).collect();
    assert!(Map::of(IMAGE, &few, Mm(2.0)).is_none());
    assert!(Map::of(IMAGE, &[], Mm(2.0)).is_none());
    let mut line = taps();
    line.iter_mut().for_each(|tap| tap.at.y = Mm(-100.0));
    assert!(Map::of(IMAGE, &line, Mm(2.0)).is_none());
}
