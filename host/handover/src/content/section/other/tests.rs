use super::*;
use crate::document::Picture;
use proptest::prelude::*;
use serde_json::json;
use skimgauge_quantity::Units;

fn facts(blocks: &[Block]) -> Vec<(String, String)> {
    blocks
        .iter()
        .filter_map(|block| match block {
            Block::Facts(facts) => Some(
                facts
                    .iter()
                    .map(|(name, cell)| (name.clone(), cell.shown().replace('\u{a0}', " "))),
            ),
            _ => None,
        })
        .flatten()
        .collect()
}

#[test]
fn keys_tell_their_units() {
    let data = json!({"flatness_mm": 1.234, "rotation_deg": 0.5, "tension_n": 812.3, "width_mm": 1200.0, "feasible": true});
    let shown = facts(&by_keys(Style::printed(Units::Mm), &data));
    assert!(shown.contains(&("Flatness".to_owned(), "1.23 mm".to_owned())), "{shown:?}");
    assert!(shown.contains(&("Rotation".to_owned(), "0.50\u{b0}".to_owned())), "{shown:?}");
    assert!(shown.contains(&("Tension".to_owned(), "812.3 N".to_owned())), "{shown:?}");
    assert!(shown.contains(&("Width".to_owned(), "1200 mm".to_owned())), "{shown:?}");
    assert!(shown.contains(&("Feasible".to_owned(), "yes".to_owned())), "{shown:?}");
    let inch = facts(&by_keys(Style::printed(Units::Inch), &data));
    assert!(inch.contains(&("Width".to_owned(), "47 1/4 in".to_owned())), "{inch:?}");
}

#[test]
fn a_value_with_its_uncertainty_is_one_fact() {
    let shown =
        facts(&by_keys(Style::printed(Units::Mm), &json!({"size_mm": {"value": 3.1, "u": 0.4}})));
    assert_eq!(shown, [("Size".to_owned(), "3.10 mm (u 0.40 mm)".to_owned())]);
}

#[test]
fn long_lists_are_cut_and_counted() {
    let points: Vec<Value> = (0..1000).map(|n| json!({"x_mm": n, "z_mm": 0.1})).collect();
    let blocks = by_keys(Style::printed(Units::Mm), &json!({ "points": points }));
    let Some(Block::Table(table)) = blocks.first() else { panic!("no table: {blocks:?}") };
    assert_eq!(table.rows.len(), MOST_ROWS);
    assert!(table.caption.contains("of 1000"), "{}", table.caption);
}

#[test]
fn drawings_are_told_apart_from_texts() {
    let drawing = json!({"drawing": "<svg xmlns='http://www.w3.org/2000/svg'/>"});
    let blocks = by_keys(Style::printed(Units::Mm), &drawing);
    assert!(
        matches!(&blocks[..], [Block::Figures(figures)] if matches!(figures[0].picture, Picture::Drawing(_)))
    );
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        ".{0,30}".prop_map(Value::from),
    ];
    leaf.prop_recursive(6, 60, 6, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            proptest::collection::vec(("[a-z_]{0,12}(_mm|_deg)?", inner), 0..6)
                .prop_map(|pairs| Value::Object(pairs.into_iter().collect())),
        ]
    })
}

proptest! {
    #[test]
    fn no_data_panics(data in any_json()) {
        let _ = by_keys(Style::printed(Units::Inch), &data);
    }
}
