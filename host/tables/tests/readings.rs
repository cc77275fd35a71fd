//! Tables of readings: what is read, what is refused, and with which words.

use skimgauge_model::{Image, Point, Station};
use skimgauge_quantity::{Band, Mm};
use skimgauge_tables::{Against, LONGEST_NAME, Problem, Readings, readings};

fn read(text: &str) -> Readings {
    readings(text.as_bytes(), &Against::default()).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn refused(text: &str) -> String {
    readings(text.as_bytes(), &Against::default()).unwrap_err().to_string()
}

fn stations() -> Vec<Station> {
    [
        ("top left", -950.0, 0.0),
        ("top right", 950.0, 0.0),
        ("bottom", 0.0, -1265.0),
        ("P1", 0.0, 0.0),
    ]
    .map(|(name, x, y)| Station { name: name.to_owned(), at: Point { x: Mm(x), y: Mm(y) } })
    .to_vec()
}

/// What a row is told under a header that has everything, against a job.
fn against_job(row: &str) -> Result<Readings, String> {
    let stations = stations();
    let against = Against {
        image: Some(Image { width: Mm(2025.0), height: Mm(1265.0) }),
        stations: &stations,
        gaps: Some(Band { low: Mm(0.4), high: Mm(10.5) }),
        band: Some(Band { low: Mm(1.0), high: Mm(4.0) }),
    };
    let text = format!("station,x_mm,y_mm,gap_mm,u_mm\n{row}\n");
    readings(text.as_bytes(), &against).map_err(|error| error.to_string())
}

#[test]
fn reads_names_quotes_comments_and_missing_uncertainties() {
    let text = "\u{feff}# as found\r\nstation,x_mm,y_mm,gap_mm,u_mm\r\n\"left, \"\"low\"\"\",-900,-1200,3.2,0.05\r\n\r\n,0,0,2.5,\r\ntop, 10 ,0,2.75,1e-2\r\n  # it's 5\" there, \"not\r\n";
    let found = read(text);
    assert_eq!(found.rows.len(), 3);
    assert_eq!(found.rows[0].station.as_deref(), Some("left, \"low\""));
    assert_eq!((found.rows[0].line, found.rows[0].u), (3, Some(Mm(0.05))));
    assert_eq!((found.rows[1].line, &found.rows[1].station, found.rows[1].u), (5, &None, None));
    assert_eq!(
        (found.rows[2].gap, found.rows[2].at.x, found.rows[2].u),
        (Mm(2.75), Mm(10.0), Some(Mm(0.01)))
    );
    assert_eq!(read("station,x_mm,y_mm,gap_mm\na,0,0,1\n").rows[0].u, None);
}

#[test]
fn every_fault_is_told_with_its_line() {
    let with = |row: &str| refused(&format!("station,x_mm,y_mm,gap_mm,u_mm\na,0,0,1,0.1\n{row}\n"));
    assert_eq!(with("b,NaN,0,1,0.1"), "line 3: x_mm is NaN, which is not a finite number");
    assert_eq!(with("b,1,inf,1,0.1"), "line 3: y_mm is inf, which is not a finite number");
    assert_eq!(with("b,1,0,1e309,0.1"), "line 3: gap_mm is 1e309, which is not a finite number");
    assert!(with("b,1,0,1,0").starts_with("line 3: u_mm is 0; an uncertainty must be 0.001 mm"));
    assert!(with("b,1,0,1,-0.2").starts_with("line 3: u_mm is -0.2"));
    assert_eq!(with("b,1,0,1"), "line 3: 4 values where the header has 5");
    assert!(with("b,1,0,1,0.1,9").starts_with("line 3: 6 values where the header has 5"));
    assert!(with("b,1,0,3.1mm,0.1").ends_with("leave the unit out, and give millimetres"));
    assert!(with("b,1,0,,0.1").starts_with("line 3: gap_mm is \"\", which is not a number"));
    assert!(with("b,1,0,3100,0.1").ends_with("is it in another unit?"));
    assert!(
        with("a,900,0,1,0.1").starts_with("line 3: station a is 900 mm from where line 2 has it")
    );
    assert!(with("b,0,-0,1,0.1").starts_with("line 3: this is the place that line 2 calls a"));
    for quote in ["\"b,1,0,1,0.1", "\"b\"c,1,0,1,0.1", "b,\"1,0,1,0.1"] {
        assert_eq!(with(quote), "line 3: a quote opens and does not close on this line");
    }
    // One that is meant as it stands is none.
    assert_eq!(
        read("x,y,gap,station\n1,0,1,5\" hole\n").rows[0].station.as_deref(),
        Some("5\" hole")
    );
    assert!(with("#N/A,1,0,1,0.1\nb,1,0,#REF!,0.1").contains("line 4: gap_mm is \"#REF!\""));
}

#[test]
fn columns_are_known_by_their_names_in_any_order() {
    for header in [
        "gap_mm,Y,station,X [mm],u",
        "GAP,y_mm,Station,x (mm),U_MM",
        "\"gap\",\"y mm\",station,x-mm,u millimetres,",
    ] {
        let found = read(&format!("{header}\n2.4,-600,left,-1000,0.05\n"));
        let row = &found.rows[0];
        assert_eq!(
            (row.station.as_deref(), row.at),
            (Some("left"), Point { x: Mm(-1000.0), y: Mm(-600.0) }),
            "{header}"
        );
        assert_eq!((row.gap, row.u), (Mm(2.4), Some(Mm(0.05))), "{header}");
    }
    assert_eq!(read("x,y,gap\n0,0,1\n").rows[0].station, None);
}

#[test]
fn a_header_that_is_none_is_told() {
    assert_eq!(
        refused("name,x,y,z\n"),
        "line 1: the header is \"name,x,y,z\"; it must be \"station,x_mm,y_mm,gap_mm,u_mm\" (station and u_mm may be left out), in millimetres"
    );
    assert!(refused("0,0,2.5\n").starts_with("line 1: the header is \"0,0,2.5\"; it must be"));
    assert_eq!(
        refused("station,x_mm,y_mm,gap_um\n"),
        "line 1: column \"gap_um\" should be \"gap_mm\"; convert to millimetres first"
    );
    assert!(refused("station,x in,y_mm,gap_mm\n").contains("column \"x in\" should be \"x_mm\""));
    assert_eq!(
        refused("statoin,x,y,gap\n"),
        "line 1: column \"statoin\" is not known here; did you mean \"station\"?"
    );
    assert!(refused("x,y,gap,note\n").starts_with(
        "line 1: column \"note\" is not known here; leave it out; the columns are station,"
    ));
    assert!(refused("x,y,gap,u_gap_mm\n").contains("column \"u_gap_mm\" is not known"));
    assert_eq!(refused("x,y,gap,X_mm\n"), "line 1: column \"X_mm\" is there twice");
    assert!(refused("").starts_with("line 1: the table is empty; it begins with station,"));
    assert!(refused("\n;;\n# nothing\n").starts_with("line 1: the table is empty"));
    assert_eq!(
        refused("station,x_mm,y_mm,gap_mm\n,,,\n"),
        "line 1: there are no readings under the header"
    );
    assert_eq!(refused("x,y,gap\n\"\",,\n"), "line 2: there are no readings under the header");
    assert!(refused("\"x,y,gap\n0,0,1\n").starts_with("line 1: a quote opens"));
}

#[test]
fn a_station_taken_again_is_kept_and_a_copy_is_left_out() {
    let found = read(
        "station,x_mm,y_mm,gap_mm\na,0,0,1\nb,9,0,1\na,0,0,1.01\nb,9,0,1.0\na,0,0,1.01\n,-0,0,1\na,0,0,1.00\n",
    );
    assert_eq!(found.rows.iter().map(|row| row.line).collect::<Vec<_>>(), [2, 3, 4]);
    assert_eq!(found.repeated, [(3, 5), (4, 6), (2, 7), (2, 8)]);
    // With an uncertainty of its own it says something else; under another name it is refused.
    let found = read("x,y,gap,u\n0,0,1,0.05\n0,0,1,0.06\n0,0,1,\n");
    assert_eq!((found.rows.len(), found.repeated.len()), (3, 0));
    assert!(refused("station,x,y,gap\na,0,0,1\nb,0,0,1\n").starts_with("line 3:"));
}

#[test]
fn an_error_has_its_column_too() {
    let error = readings(b"gap,y,x\n1,0,0\n1,zero,0\n", &Against::default()).unwrap_err();
    assert_eq!((error.line, error.column), (3, Some(2)));
    assert!(matches!(error.problem, Problem::NotANumber { column: "y_mm", .. }));
}

#[test]
fn a_place_off_the_image_is_refused_with_a_guess() {
    let said = |row: &str| against_job(row).unwrap_err();
    assert!(said("a,0,600,3,0.1").ends_with("is y -600 meant?"), "{}", said("a,0,600,3,0.1"));
    assert!(said("a,2000,-600,3,0.1").ends_with("is x 987.5 meant?"));
    assert!(said("a,2000,600,3,0.1").ends_with("is x 987.5, y -600 meant?"));
    assert!(said("a,-1200,-900,3,0.1").ends_with("are x and y in each other's place?"));
    assert!(said("a,5000,0,3,0.1").ends_with("the job's image is 2025 x 1265 mm"));
    assert!(said("a,5000,0,3,0.1").starts_with("line 2: x 5000, y 0 lies 3988 mm off the image; "));
    assert!(against_job("a,1016,4,3,0.1").is_ok());
}

#[test]
fn a_gap_that_the_head_cannot_read_is_refused_with_a_guess() {
    let said = |row: &str| against_job(row).unwrap_err();
    assert_eq!(
        said("a,0,-5,-2.4,0.1"),
        "line 2: gap_mm is -2.4, and the head reads 0.4 to 10.5 mm; a gap has no sign: was the head's zero lost, or a minus typed?"
    );
    assert!(said("a,0,-5,0.095,0.1").ends_with("if it is in inches, enter 2.41"));
    assert!(said("a,0,-5,480,0.1").ends_with("take it again"));
    // In inches it would be farther from the band than any emitter is hung.
    assert!(
        said("a,0,-5,0.3,0.1").ends_with(
            "so near the board no head sees light: take it again, or leave the line out"
        )
    );
    assert!(against_job("a,0,-5,10.5,0.1").is_ok());
}

#[test]
fn a_name_that_is_nearly_a_station_is_refused() {
    let said = |row: &str| against_job(row).unwrap_err();
    assert_eq!(
        said("top lfet,-950,0,3,0.1"),
        "line 2: station \"top lfet\" is not in the job, which has \"top left\"; did you mean \"top left\"? If it is another place, give it a name of its own"
    );
    assert!(said("botom,0,-1265,3,0.1").contains("did you mean \"bottom\"?"));
    let name = |row: &str| against_job(row).unwrap().rows[0].station.clone().unwrap();
    // What a spreadsheet does by itself is no slip.
    assert_eq!(name("Top Left,-950,0,3,0.1"), "top left");
    assert_eq!(name("top_left,-950,0,3,0.1"), "top left");
    // Numbered names are meant as they stand, and so are others.
    for other in ["P2", "P12", "top left 2", "shelf", "top middle"] {
        assert_eq!(name(&format!("{other},-500,-20,3,0.1")), other);
    }
}

#[test]
fn a_station_away_from_where_the_job_has_it_is_pointed_out() {
    let found = against_job("top left,-930,0,3,0.1\ntop right,945,0,3,0.1").unwrap();
    assert_eq!(found.moved.len(), 1);
    assert_eq!(
        (found.moved[0].line, found.moved[0].station.as_str(), found.moved[0].apart),
        (2, "top left", Mm(20.0))
    );
}

/// A sign that is wrong, or inches under the job's names, would turn the plan round.
#[test]
fn a_station_at_quite_another_place_is_refused() {
    for row in ["top left,950,0,3,0.1", "top left,-37.4,0,3,0.1"] {
        let error = against_job(row).unwrap_err().to_string();
        assert!(error.starts_with("line 2: top left is given at x "), "{error}");
        assert!(
            error.contains("mm away by the job: x -950, y 0") && error.contains("sign"),
            "{error}"
        );
    }
}

#[test]
fn a_name_that_cannot_be_shown_is_refused() {
    assert_eq!(
        refused("station,x,y,gap\nleft\u{1b}[2J,0,0,1\n"),
        "line 2: the name \"left [2J\" has a character in it that cannot be shown"
    );
    let long = "n".repeat(LONGEST_NAME + 1);
    assert!(
        refused(&format!("station,x,y,gap\n{long},0,0,1\n"))
            .ends_with("is longer than 60 characters")
    );
}
