//! The handover as PDF: the same document, laid out on paper.

mod blocks;
mod face;
mod lists;
mod sheet;
mod structure;
mod table;

use krilla::Document as Pdf;
use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::Fill;
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, Node, SpanTag, Tag, TagGroup, TagTree,
};
use krilla::text::{Font, TextDirection};
use krilla_svg::{SurfaceExt, SvgSettings};

use crate::document::Document;
use face::{Faces, Weight};
use sheet::{Mark, Placed, Sheets};
use skimgauge_drawing::palette::Colour;
use std::sync::OnceLock;
use usvg::Tree;

/// A drawing's pixel is 1/96 in (CSS Values and Units, 6.2), a point 1/72 in.
const PT_PER_PX: f32 = 0.75;

/// What the PDF is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8 1/2 in by 11 in.
    Letter,
}

impl Paper {
    /// Width and height, points (1/72 inch).
    fn size_pt(self) -> [f32; 2] {
        match self {
            Self::A4 => [595.28, 841.89],
            Self::Letter => [612.0, 792.0],
        }
    }
}

/// Why there is no PDF. The page can still be had as HTML.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The built-in fonts can't be read.
    #[error(
        "The PDF could not be made: its built-in fonts cannot be read. Make the page without --pdf and print it from a browser."
    )]
    Fonts,
    /// The document library refused.
    #[error(
        "The PDF could not be made ({0}). Make the page without --pdf and print it from a browser."
    )]
    Writing(String),
}

/// Sheets that the client's part of it takes: what stands before the appendix.
pub(crate) fn client_sheets(document: &Document, paper: Paper) -> Result<usize, PdfError> {
    let faces = Faces::shared().ok_or(PdfError::Fonts)?;
    Ok(blocks::lay_out_for_client(document, faces, paper.size_pt()).sheets.len())
}

/// Lays out and writes.
pub(crate) fn write(document: &Document, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let faces = Faces::shared().ok_or(PdfError::Fonts)?;
    let fonts = Fonts::shared().ok_or(PdfError::Fonts)?;
    let sheets = blocks::lay_out(document, faces, paper.size_pt());
    let mut pdf = Pdf::new_with(to_be_read_out()?);
    let mut leaves: Vec<Vec<Identifier>> = vec![Vec::new(); sheets.structure.len()];
    let [width, height] = paper.size_pt();
    for sheet in &sheets.sheets {
        let settings = PageSettings::from_wh(width, height)
            .ok_or_else(|| PdfError::Writing("the paper has no size".to_owned()))?;
        let mut page = pdf.start_page_with(settings);
        let mut surface = page.surface();
        for together in sheet.chunk_by(|a, b| a.of == b.of) {
            draw_tagged(&mut surface, together, fonts, &mut leaves);
        }
        surface.finish();
        page.finish();
    }
    pdf.set_outline(outline(&sheets));
    pdf.set_tag_tree(sheets.structure.tree(leaves));
    pdf.set_metadata(
        Metadata::new()
            .title(format!("{}: {}", document.kind, document.title))
            .creator("skimgauge".to_owned())
            .language("en".to_owned()),
    );
    pdf.finish().map_err(|error| PdfError::Writing(format!("{error:?}")))
}

/// A file that can be read out (PDF/UA-1): refused as it is written where it could not.
fn to_be_read_out() -> Result<SerializeSettings, PdfError> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| PdfError::Writing(format!("{error:?}")))?;
    Ok(SerializeSettings { configuration, ..SerializeSettings::default() })
}

/// Marks of one element, or marks for the eye alone.
fn draw_tagged(
    surface: &mut Surface<'_>,
    marks: &[Placed],
    fonts: &Fonts,
    leaves: &mut [Vec<Identifier>],
) {
    let of = marks.first().and_then(|placed| placed.of);
    let drawing = marks.iter().any(|placed| matches!(placed.mark, Mark::Drawing { .. }));
    let leaf = surface.start_tagged(match of {
        None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Some(_) if drawing => ContentTag::Other,
        Some(_) => ContentTag::Span(SpanTag::empty()),
    });
    for placed in marks {
        draw(surface, &placed.mark, fonts);
    }
    surface.end_tagged();
    if let Some(leaves) = of.and_then(|of| leaves.get_mut(of)) {
        leaves.push(leaf);
    }
}

/// Drawings as PDF, a page each, at their own size: a drawing 210 mm wide is 210 mm wide on paper.
pub(crate) fn drawings(title: &str, drawings: &[&str]) -> Result<Vec<u8>, PdfError> {
    let faces = Faces::shared().ok_or(PdfError::Fonts)?;
    let mut pdf = Pdf::new();
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for (at, svg) in drawings.iter().enumerate() {
        let drawing = Tree::from_str(svg, &faces.drawing)
            .map_err(|error| PdfError::Writing(format!("drawing {}: {error}", at + 1)))?;
        let size = drawing.size();
        let (width, height) = (size.width() * PT_PER_PX, size.height() * PT_PER_PX);
        let unsized_page = || PdfError::Writing(format!("drawing {} has no size", at + 1));
        let mut page =
            pdf.start_page_with(PageSettings::from_wh(width, height).ok_or_else(unsized_page)?);
        let mut surface = page.surface();
        let size = Size::from_wh(width, height).ok_or_else(unsized_page)?;
        let leaf = surface.start_tagged(ContentTag::Other);
        let _ = surface.draw_svg(&drawing, size, SvgSettings::default());
        surface.end_tagged();
        let says = format!("Drawing {} of {}: {title}", at + 1, drawings.len());
        tree.push(TagGroup::with_children(Tag::Figure(Some(says)), vec![Node::Leaf(leaf)]));
        surface.finish();
        page.finish();
    }
    pdf.set_tag_tree(tree);
    pdf.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .creator("skimgauge".to_owned())
            .language("en".to_owned()),
    );
    pdf.finish().map_err(|error| PdfError::Writing(format!("{error:?}")))
}

/// The fonts that are written into the file.
struct Fonts {
    regular: Font,
    bold: Font,
}

impl Fonts {
    /// Read once: they are built in.
    fn shared() -> Option<&'static Self> {
        static FONTS: OnceLock<Option<Fonts>> = OnceLock::new();
        FONTS.get_or_init(Self::load).as_ref()
    }

    fn load() -> Option<Self> {
        let font = |bytes: &'static [u8]| Font::new(bytes.into(), 0);
        Some(Self { regular: font(Weight::Regular.bytes())?, bold: font(Weight::Bold.bytes())? })
    }
}

fn draw(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Text { at, size, weight, colour, text } => {
            let font = match weight {
                Weight::Regular => &fonts.regular,
                Weight::Bold => &fonts.bold,
            };
            surface.set_fill(Some(fill(*colour)));
            surface.draw_text(
                Point::from_xy(at[0], at[1]),
                font.clone(),
                *size,
                text,
                false,
                TextDirection::Auto,
            );
        }
        Mark::Box { at, size, colour } => {
            let Some(rect) = Rect::from_xywh(at[0], at[1], size[0], size[1]) else { return };
            let mut path = PathBuilder::new();
            path.push_rect(rect);
            if let Some(path) = path.finish() {
                surface.set_fill(Some(fill(*colour)));
                surface.draw_path(&path);
            }
        }
        Mark::Drawing { at, size, tree } => {
            let Some(size) = Size::from_wh(size[0], size[1]) else { return };
            surface.push_transform(&Transform::from_translate(at[0], at[1]));
            let _ = surface.draw_svg(tree, size, SvgSettings::default());
            surface.pop();
        }
    }
}

fn fill(colour: Colour) -> Fill {
    let part = |at: usize| {
        colour.light.get(at..at + 2).and_then(|hex| u8::from_str_radix(hex, 16).ok()).unwrap_or(0)
    };
    Fill {
        paint: rgb::Color::new(part(1), part(3), part(5)).into(),
        opacity: NormalizedF32::ONE,
        rule: Default::default(),
    }
}

fn outline(sheets: &Sheets<'_>) -> Outline {
    let mut outline = Outline::new();
    for (title, sheet, y) in &sheets.titles {
        outline.push_child(OutlineNode::new(
            title.clone(),
            XyzDestination::new(*sheet, Point::from_xy(0.0, *y)),
        ));
    }
    outline
}
