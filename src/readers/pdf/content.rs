//! The clean-up front end: walks a page's content, keeps what shows text, and sets rules and pictures apart.
//!
//! The text pass behind it misplaces form objects, drops some text operators and stops at malformed operands; so it
//! is given one flat stream of checked text operators. What it cannot hand on (invisible text, clipping) is numbered
//! here, and each number is passed through it as a path that no page could hold ([`MARK`]).

use super::fonts::Fonts;
use super::lexer::{Lexer, Operand};
use super::paths::{Ink, Matrix, Paths, Rect, Rule, apply, multiply};
use super::source;
use lopdf::{Dictionary, Document, Object, ObjectId};
use std::collections::HashSet;
use std::io::Write as _;
use std::time::Instant;

/// Abscissa of the paths that carry a number through the text pass.
pub const MARK: f64 = -777_777.0;

/// Operators of one page, forms included.
const MOST_OPERATORS: usize = 1_500_000;
/// Text and state operators of one page that the text pass gets.
const MOST_SHOWN: usize = 200_000;
/// Glyphs of one page.
const MOST_GLYPHS: usize = 200_000;
/// Forms within each other.
const DEEPEST_FORM: usize = 12;
/// Saved states.
const DEEPEST_STATE: usize = 256;
/// Distinct states of text on one page.
const MOST_STATES: usize = 20_000;

/// How a run of text stands on the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TextState {
    /// Drawn with neither fill nor line.
    pub invisible: bool,
    /// On a layer that is turned off.
    pub hidden: bool,
    /// Where it may be seen.
    pub clip: Rect,
}

/// A page as the front end leaves it.
#[derive(Default)]
pub struct Cleaned {
    /// Content for the text pass.
    pub content: Vec<u8>,
    /// Rules and edges of backgrounds, in units of the page.
    pub rules: Vec<Rule>,
    /// Pictures, in units of the page.
    pub pictures: Vec<Rect>,
    /// States that the marks number.
    pub states: Vec<TextState>,
    /// Strings for which no font was at hand.
    pub fontless: usize,
    /// Glyphs shown.
    pub glyphs: usize,
}

/// Why a page was given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Excess {
    /// Too many operators, glyphs or bytes.
    Size,
    /// Out of time.
    Time,
}

/// Cleans the content of pages.
pub struct Cleaner<'a, 'f> {
    doc: &'a Document,
    fonts: &'f mut Fonts<'a>,
    hidden_layers: &'f HashSet<ObjectId>,
    until: Instant,
    page: Cleaned,
    paths: Paths,
    operators: usize,
    shown: usize,
    in_text: bool,
    marked: Option<usize>,
    forms: Vec<*const Dictionary>,
    state: State,
    saved: Vec<State>,
    /// Marked content that is open, each with whether it is hidden.
    layers: Vec<bool>,
}

#[derive(Clone)]
struct State {
    matrix: Matrix,
    clip: Rect,
    fill: Ink,
    stroke: Ink,
    mode: u8,
    font: Option<usize>,
}

impl<'a, 'f> Cleaner<'a, 'f> {
    /// Prepares for one page. `visible` is all that can be seen of it.
    pub fn new(
        doc: &'a Document,
        fonts: &'f mut Fonts<'a>,
        hidden_layers: &'f HashSet<ObjectId>,
        until: Instant,
        visible: Rect,
    ) -> Self {
        let identity = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
        let state = State { matrix: identity, clip: visible, fill: Ink::Dark, stroke: Ink::Dark, mode: 0, font: None };
        Self {
            doc,
            fonts,
            hidden_layers,
            until,
            page: Cleaned::default(),
            paths: Paths::default(),
            operators: 0,
            shown: 0,
            in_text: false,
            marked: None,
            forms: Vec::new(),
            state,
            saved: Vec::new(),
            layers: Vec::new(),
        }
    }

    /// The cleaned page.
    pub fn finish(mut self) -> Cleaned {
        self.page.rules = self.paths.rules;
        self.page
    }

    /// Reads the content of the page itself. Gives whether it ends as it should, not within a block of text.
    pub fn content(&mut self, content: &[u8], resources: &'a Dictionary) -> Result<bool, Excess> {
        let depth = self.saved.len();
        self.run(content, resources)?;
        let ended = !self.in_text;
        // A page that saves more than it restores must not hand its state to what is drawn over it.
        while self.saved.len() > depth {
            self.restore();
        }
        Ok(ended)
    }

    /// Draws a form object as if its content stood here, within a box of the page for annotations.
    pub fn form(
        &mut self,
        object: &'a Object,
        placed: Option<Matrix>,
        resources: &'a Dictionary,
    ) -> Result<(), Excess> {
        let Some(Object::Stream(stream)) = source::resolve(self.doc, object) else { return Ok(()) };
        let dictionary = &stream.dict;
        let known: *const Dictionary = dictionary;
        if self.forms.len() >= DEEPEST_FORM || self.forms.contains(&known) {
            return Ok(());
        }
        let Some(content) = source::content(stream) else { return Ok(()) };
        // Each drawing costs, however small the form: forms that draw forms multiply.
        self.operators += 20 + content.len() / 256;
        let own = source::dictionary(self.doc, dictionary, b"Resources").unwrap_or(resources);
        let matrix = source::numbers(self.doc, dictionary, b"Matrix").and_then(|m| Matrix::try_from(m).ok());
        let hidden = dictionary.get(b"OC").is_ok_and(|o| self.is_hidden_layer(o));
        let depth = self.saved.len();
        let layers = self.layers.len();
        self.save();
        self.layers.push(hidden);
        for matrix in [placed, matrix].into_iter().flatten() {
            self.transform(matrix);
        }
        if let Some(corners) = source::numbers(self.doc, dictionary, b"BBox").and_then(|b| <[f32; 4]>::try_from(b).ok())
        {
            let [a, b, c, d] = corners;
            let shown = Rect::around([(a, b), (c, b), (a, d), (c, d)].map(|p| apply(&self.state.matrix, p)));
            self.state.clip = self.state.clip.within(&shown);
        }
        self.forms.push(known);
        let result = self.run(&content, own);
        self.forms.pop();
        self.layers.truncate(layers);
        while self.saved.len() > depth {
            self.restore();
        }
        result
    }

    fn run(&mut self, content: &[u8], resources: &'a Dictionary) -> Result<(), Excess> {
        let floor = self.saved.len();
        let layers = self.layers.len();
        let mut lexer = Lexer::new(content);
        let mut operands = Vec::new();
        while let Some(operator) = lexer.next(&mut operands) {
            self.operators += 1;
            if self.operators > MOST_OPERATORS || self.shown > MOST_SHOWN || self.page.glyphs > MOST_GLYPHS {
                return Err(Excess::Size);
            }
            if self.operators.is_multiple_of(1024) && Instant::now() > self.until {
                return Err(Excess::Time);
            }
            match operator {
                b"q" => self.save(),
                b"Q" if self.saved.len() > floor => self.restore(),
                b"cm" => {
                    if let Some(matrix) = numbers(&operands) {
                        self.transform(matrix);
                    }
                }
                b"Do" => self.draw(&operands, resources)?,
                b"BI" => self.picture(),
                b"gs" => self.graphics_state(&operands, resources),
                b"BMC" | b"BDC" => {
                    let hidden = self.begins_hidden(&operands, resources);
                    if self.layers.len() < 4 * DEEPEST_STATE {
                        self.layers.push(hidden);
                    }
                }
                b"EMC" if self.layers.len() > layers => {
                    self.layers.pop();
                }
                _ => {
                    if !self.text(operator, &operands, resources) {
                        self.drawing(operator, &operands);
                    }
                }
            }
        }
        Ok(())
    }

    fn save(&mut self) {
        if self.saved.len() < DEEPEST_STATE {
            self.saved.push(self.state.clone());
            self.put(b"q\n");
        }
    }

    fn restore(&mut self) {
        if let Some(state) = self.saved.pop() {
            self.state = state;
            self.put(b"Q\n");
        }
    }

    fn put(&mut self, bytes: &[u8]) {
        self.shown += 1;
        self.page.content.extend_from_slice(bytes);
    }

    fn put_numbers(&mut self, numbers: &[f32], operator: &str) {
        self.shown += 1;
        for number in numbers {
            push_number(&mut self.page.content, *number);
        }
        self.page.content.extend_from_slice(operator.as_bytes());
        self.page.content.push(b'\n');
    }

    fn transform(&mut self, matrix: Matrix) {
        self.state.matrix = multiply(&matrix, &self.state.matrix);
        self.put_numbers(&matrix, "cm");
    }

    /// Text operators. False for all others.
    fn text(&mut self, operator: &[u8], operands: &[Operand], resources: &'a Dictionary) -> bool {
        match operator {
            b"BT" | b"ET" => {
                self.in_text = operator == b"BT";
                self.put(if self.in_text { b"BT\n" } else { b"ET\n" });
            }
            b"T*" => self.put(b"T*\n"),
            b"Tc" | b"Tw" | b"Tz" | b"TL" | b"Ts" => {
                if let Some([n]) = numbers(operands) {
                    let operator = std::str::from_utf8(operator).unwrap_or_default();
                    self.put_numbers(&[n], operator);
                }
            }
            b"Tr" => {
                if let Some([mode]) = numbers(operands) {
                    self.state.mode = mode.clamp(0.0, 7.0) as u8;
                }
            }
            b"Td" | b"TD" => {
                if let Some(by) = numbers::<2>(operands) {
                    self.put_numbers(&by, if operator == b"Td" { "Td" } else { "TD" });
                }
            }
            b"Tm" => {
                if let Some(matrix) = numbers::<6>(operands) {
                    self.put_numbers(&matrix, "Tm");
                }
            }
            b"Tf" => {
                if let [.., Operand::Name(name), Operand::Number(size)] = operands {
                    self.state.font = self.fonts.find(self.doc, resources, name);
                    self.set_font(*size);
                }
            }
            b"Tj" => self.show(operands.last()),
            b"'" => {
                self.put(b"T*\n");
                self.show(operands.last());
            }
            b"\"" => {
                if let [.., Operand::Number(words), Operand::Number(characters), text] = operands {
                    self.put_numbers(&[*words], "Tw");
                    self.put_numbers(&[*characters], "Tc");
                    self.put(b"T*\n");
                    self.show(Some(text));
                }
            }
            b"TJ" => self.show(operands.last()),
            _ => return false,
        }
        true
    }

    fn set_font(&mut self, size: f32) {
        if let Some(font) = self.state.font {
            let _ = write!(self.page.content, "/F{font} ");
            self.put_numbers(&[size], "Tf");
        }
    }

    fn show(&mut self, text: Option<&Operand>) {
        let (Some(text), Some(font)) = (text, self.state.font) else {
            self.page.fontless += 1;
            return;
        };
        self.mark();
        self.shown += 1;
        match text {
            Operand::Text(bytes) => {
                self.page.glyphs += self.fonts.show(font, bytes, &mut self.page.content);
                self.page.content.extend_from_slice(b"Tj\n");
            }
            Operand::Array(members) => {
                self.page.content.push(b'[');
                for member in members {
                    match member {
                        Operand::Text(bytes) => {
                            self.page.glyphs += self.fonts.show(font, bytes, &mut self.page.content);
                        }
                        Operand::Number(by) => push_number(&mut self.page.content, *by),
                        _ => {}
                    }
                }
                self.page.content.extend_from_slice(b"]TJ\n");
            }
            _ => {}
        }
    }

    /// Sends the number of the state of the text that follows, where it is another than before.
    fn mark(&mut self) {
        let state = TextState {
            invisible: self.state.mode == 3,
            hidden: self.layers.iter().any(|h| *h),
            clip: self.state.clip,
        };
        if self.marked.and_then(|m| self.page.states.get(m)) == Some(&state) {
            return;
        }
        let near = self.page.states.iter().rev().take(16).position(|s| *s == state);
        let number = match near {
            Some(back) => self.page.states.len() - 1 - back,
            None if self.page.states.len() < MOST_STATES => {
                self.page.states.push(state);
                self.page.states.len() - 1
            }
            None => return,
        };
        self.marked = Some(number);
        self.shown += 1;
        let _ = writeln!(self.page.content, "{MARK:.0} {number} m S");
    }

    fn draw(&mut self, operands: &[Operand], resources: &'a Dictionary) -> Result<(), Excess> {
        let object = operands.last().and_then(Operand::name).and_then(|name| {
            let list = source::dictionary(self.doc, resources, b"XObject")?;
            list.get(name).ok()
        });
        let Some(object) = object else { return Ok(()) };
        let Some(Object::Stream(stream)) = source::resolve(self.doc, object) else { return Ok(()) };
        match source::name(self.doc, &stream.dict, b"Subtype") {
            Some(b"Form") => self.form(object, None, resources),
            Some(b"Image") => {
                self.picture();
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn picture(&mut self) {
        let corners = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)].map(|p| apply(&self.state.matrix, p));
        let shown = Rect::around(corners).within(&self.state.clip);
        if self.page.pictures.len() < 10_000 && shown.width() > 0.0 && shown.height() > 0.0 {
            self.page.pictures.push(shown);
        }
    }

    fn graphics_state(&mut self, operands: &[Operand], resources: &'a Dictionary) {
        let given = operands.last().and_then(Operand::name).and_then(|name| {
            let list = source::dictionary(self.doc, resources, b"ExtGState")?;
            source::dictionary(self.doc, list, name)
        });
        let Some(Object::Array(font)) = given.and_then(|g| source::entry(self.doc, g, b"Font")) else { return };
        if let [font, size] = font.as_slice() {
            self.state.font = self.fonts.add(self.doc, font);
            let size = source::number(self.doc, size).unwrap_or(0.0);
            self.set_font(size);
        }
    }

    fn begins_hidden(&self, operands: &[Operand], resources: &'a Dictionary) -> bool {
        let [Operand::Name(tag), Operand::Name(name)] = operands else { return false };
        if tag != b"OC" {
            return false;
        }
        let layer = source::dictionary(self.doc, resources, b"Properties").and_then(|p| p.get(name).ok());
        layer.is_some_and(|l| self.is_hidden_layer(l))
    }

    /// A layer that is off, or a group of layers all of which are.
    fn is_hidden_layer(&self, layer: &Object) -> bool {
        if layer.as_reference().is_ok_and(|id| self.hidden_layers.contains(&id)) {
            return true;
        }
        let Some(Object::Dictionary(group)) = source::resolve(self.doc, layer) else { return false };
        match group.get(b"OCGs") {
            Ok(Object::Reference(id)) => self.hidden_layers.contains(id),
            Ok(Object::Array(members)) if !members.is_empty() => {
                members.iter().all(|m| m.as_reference().is_ok_and(|id| self.hidden_layers.contains(&id)))
            }
            _ => false,
        }
    }

    fn drawing(&mut self, operator: &[u8], operands: &[Operand]) {
        let State { matrix, clip, fill, stroke, .. } = &mut self.state;
        match operator {
            b"m" | b"l" | b"c" | b"v" | b"y" | b"re" | b"h" => self.paths.add(operator, operands, matrix),
            b"W" | b"W*" => self.paths.clips = true,
            b"S" | b"s" | b"f" | b"F" | b"f*" | b"B" | b"B*" | b"b" | b"b*" | b"n" => {
                let hidden = self.layers.iter().any(|h| *h);
                let fills = matches!(operator.first(), Some(b'f' | b'F' | b'B' | b'b')) && !hidden;
                let strokes = matches!(operator.first(), Some(b'S' | b's' | b'B' | b'b')) && !hidden;
                let closes = matches!(operator.first(), Some(b's' | b'b'));
                self.paths.paint(fills.then_some(*fill), strokes.then_some(*stroke), closes, clip);
            }
            b"g" | b"rg" | b"k" | b"sc" | b"scn" => *fill = Ink::of(operator, operands, *fill),
            b"G" | b"RG" | b"K" | b"SC" | b"SCN" => *stroke = Ink::of(operator, operands, *stroke),
            b"cs" => *fill = Ink::in_space(operands),
            b"CS" => *stroke = Ink::in_space(operands),
            _ => {}
        }
    }
}

/// The last operands as numbers.
fn numbers<const N: usize>(operands: &[Operand]) -> Option<[f32; N]> {
    let from = operands.len().checked_sub(N)?;
    let mut found = [0.0; N];
    for (to, operand) in found.iter_mut().zip(operands.get(from..)?) {
        *to = operand.number()?;
    }
    Some(found)
}

fn push_number(out: &mut Vec<u8>, number: f32) {
    // Whole numbers are most of what a page holds, and the formatter of fractions is slow.
    if number.fract() == 0.0 {
        let mut digits = [0_u8; 12];
        let mut at = digits.len();
        let mut rest = number.abs() as u32;
        loop {
            at -= 1;
            if let Some(digit) = digits.get_mut(at) {
                *digit = b'0' + (rest % 10) as u8;
            }
            rest /= 10;
            if rest == 0 {
                break;
            }
        }
        if number < 0.0 {
            out.push(b'-');
        }
        out.extend_from_slice(digits.get(at..).unwrap_or_default());
    } else {
        let _ = write!(out, "{number}");
    }
    out.push(b' ');
}
