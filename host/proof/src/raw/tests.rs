use super::*;
use proptest::prelude::*;

#[test]
fn reports_come_back_to_their_grain() {
    let mut contact = Contact::new(1, Kind::Touch, Report { at_ms: 1234.5, x: 101.1, y: 0.25 });
    contact.report(Report { at_ms: 1244.6, x: 3839.99, y: 12.0 });
    let reports = contact.reports();
    assert_eq!(reports[0], Report { at_ms: 1234.5, x: 101.1, y: 0.25 });
    assert_eq!(reports[1], Report { at_ms: 1244.6, x: 3839.99, y: 12.0 });
    assert_eq!((contact.down_ms(), contact.up_ms()), (1234.5, 1244.6));
}

#[test]
fn zoom_and_scale_cancel_in_a_place() {
    let image = Image::mm(2025.0, 1265.6);
    let one = Window::full(1920.0, 1200.0);
    let scaled = Window::full(1536.0, 960.0);
    assert_eq!(one.place(image, 960.0, 600.0), scaled.place(image, 768.0, 480.0));
    assert_eq!(one.doubt(image), None);
    assert_eq!(scaled.doubt(image), None);
    let windowed =
        Window { screen_width: 1920.0, screen_height: 1200.0, ..Window::full(1000.0, 613.0) };
    assert!(windowed.doubt(image).is_some());
    assert!(Window { scale: 2.0, ..one }.doubt(image).is_some());
    assert!(Window::full(1920.0, 1080.0).doubt(image).is_some());
}

proptest! {
    #[test]
    fn no_path_panics(path in prop::collection::vec(any::<i64>(), 0..20)) {
        let contact = Contact { path, ..Contact::new(0, Kind::Pen, Report { at_ms: 0.0, x: 0.0, y: 0.0 }) };
        for report in contact.reports() {
            prop_assert!(report.x.is_finite() && report.y.is_finite() && report.at_ms.is_finite());
        }
        let _ = contact.up_ms();
    }
}
