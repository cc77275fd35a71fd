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
/// quantile.
#[test]
fn the_map_is_that_of_numpy() {
    let map = Map::of(IMAGE, &taps(), Mm(2.0)).unwrap();
    assert!(map.bent.is_empty() && !map.uneven && map.moved.is_none());
    let slopes = [map.scale_across, map.scale_down, map.turn, map.shear];
    let mut found: Vec<[f64; 3]> =
        [map.right, map.up].iter().map(|v| [v.value.0, v.u.0, v.expanded.0]).collect();
    found.extend(slopes.iter().map(|v| [v.value.0, v.u.0, v.expanded.0]));
    let rows = include_str!("../../tests/data/map_numpy.csv").lines().skip(1);
    let rows: Vec<Vec<&str>> = rows.map(|row| row.split(',').collect()).collect();
    for (row, found) in rows.iter().zip(&found) {
        for (cell, found) in row[1..].iter().zip(found) {
            let numpy: f64 = cell.parse().unwrap();
            assert!((numpy - found).abs() < 1e-9 * numpy.abs().max(1.0), "{}: {found}", row[0]);
        }
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
