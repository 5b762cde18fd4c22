//! Where everything stands on which page, and what it means to a screen reader.

use super::font::{Faces, Lines, Piece, cut, sized, wrap};
use crate::plot::{Ink, Shape};
use crate::sheet::{Block, Column, Look, Run, Sheet, Table, run};

pub(super) const PAGE: (f32, f32) = (595.28, 841.89);
const LEFT: f32 = 46.0;
const WIDTH: f32 = PAGE.0 - 2.0 * LEFT;
const TOP: f32 = 58.0;
const BOTTOM: f32 = PAGE.1 - 54.0;
const BODY: f32 = 9.0;
const SMALL: f32 = 8.2;
/// Height of a line by the size of its letters.
const LEADING: f32 = 1.38;

/// A mark on a page.
#[derive(Clone, Debug)]
pub(super) enum Mark {
    /// Letters; those without a node are decoration to a screen reader.
    Text {
        x: f32,
        y: f32,
        size: f32,
        look: Look,
        ink: Ink,
        text: String,
        node: Option<usize>,
    },
    Area {
        left: f32,
        top: f32,
        width: f32,
        height: f32,
        ink: Ink,
    },
    Line {
        points: Vec<(f32, f32)>,
        ink: Ink,
        width: f32,
        dashed: bool,
    },
    /// A picture that is one thing to a screen reader.
    Figure {
        left: f32,
        top: f32,
        shapes: Vec<Shape>,
        node: usize,
    },
}

/// What a part of the document is.
#[derive(Clone, Debug)]
pub(super) enum Meaning {
    Whole,
    Title(String),
    Heading(u16, String),
    Paragraph,
    Table(String),
    HeadRow,
    Row,
    HeadCell,
    Cell,
    Figure(String),
}

/// A part of the document with what belongs to it, in reading order.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub meaning: Meaning,
    pub children: Vec<Child>,
}

#[derive(Clone, Copy, Debug)]
pub(super) enum Child {
    Node(usize),
    /// Page and mark.
    Mark(usize, usize),
}

/// A report with every mark in its place.
pub(super) struct Laid {
    pub pages: Vec<Vec<Mark>>,
    pub nodes: Vec<Node>,
    /// Level, text, page and height of each heading.
    pub headings: Vec<(u8, String, usize, f32)>,
}

struct Flow<'a> {
    faces: &'a Faces,
    laid: Laid,
    y: f32,
    lost: bool,
}

/// Lays a report out.
pub(super) fn lay(sheet: &Sheet, faces: &Faces) -> Laid {
    let laid = Laid {
        pages: vec![Vec::new()],
        nodes: vec![Node { meaning: Meaning::Whole, children: Vec::new() }],
        headings: Vec::new(),
    };
    let mut flow = Flow { faces, laid, y: 0.0, lost: false };
    flow.title(sheet);
    for (i, block) in sheet.blocks.iter().enumerate() {
        flow.block(block, sheet.blocks.get(i + 1));
    }
    if flow.lost {
        let text = "Some letters are not in the typeface of this file and show as a mark. The print page has them all.";
        flow.gap(6.0);
        flow.text(&[run(Look::Faint, text)], BODY);
    }
    flow.footers(sheet);
    flow.laid
}

impl Flow<'_> {
    fn node(&mut self, parent: usize, meaning: Meaning) -> usize {
        let id = self.laid.nodes.len();
        self.laid.nodes.push(Node { meaning, children: Vec::new() });
        self.laid.nodes[parent].children.push(Child::Node(id));
        id
    }

    fn mark(&mut self, mark: Mark) {
        let page = self.laid.pages.len() - 1;
        let node = match &mark {
            Mark::Text { node, .. } => *node,
            Mark::Figure { node, .. } => Some(*node),
            Mark::Area { .. } | Mark::Line { .. } => None,
        };
        if let Some(node) = node {
            let child = Child::Mark(page, self.laid.pages[page].len());
            self.laid.nodes[node].children.push(child);
        }
        self.laid.pages[page].push(mark);
    }

    fn new_page(&mut self) {
        self.laid.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Leaves room, unless a page has just begun.
    fn gap(&mut self, height: f32) {
        if self.y > TOP {
            self.y += height;
        }
    }

    /// Begins a new page if less than so much is left of this one.
    fn need(&mut self, height: f32) {
        if self.y + height > BOTTOM && self.y > TOP {
            self.new_page();
        }
    }

    fn printable(&mut self, runs: &[Run]) -> Vec<Run> {
        runs.iter()
            .map(|r| {
                let (text, lost) = self.faces.printable(&r.text);
                self.lost |= lost;
                run(r.look, text)
            })
            .collect()
    }

    fn lines(&mut self, runs: &[Run], width: f32, size: f32) -> Lines {
        let runs = self.printable(runs);
        wrap(self.faces, &runs, width, size)
    }

    /// Sets one line with its baseline below `self.y`.
    fn line(&mut self, line: &[Piece], left: f32, top: f32, size: f32, node: Option<usize>) {
        let mut x = left;
        let y = top + size * 1.05;
        for piece in line {
            let ink = match piece.look {
                Look::Plain | Look::Strong => Ink::Text,
                Look::Faint | Look::Struck | Look::Fine => Ink::Faint,
                Look::Alarm => Ink::Floor,
            };
            let size = sized(piece.look, size);
            self.mark(Mark::Text { x, y, size, look: piece.look, ink, text: piece.text.clone(), node });
            if piece.look == Look::Struck {
                let bare = self.faces.width(piece.text.trim_end(), cut(piece.look), size);
                let at = y - size * 0.3;
                self.mark(Mark::Line {
                    points: vec![(x, at), (x + bare, at)],
                    ink: Ink::Floor,
                    width: 0.8,
                    dashed: false,
                });
            }
            x += piece.width;
        }
    }

    /// Sets a paragraph over the whole width.
    fn text(&mut self, runs: &[Run], size: f32) {
        let lines = self.lines(runs, WIDTH, size);
        let node = self.node(0, Meaning::Paragraph);
        for line in &lines {
            self.need(size * LEADING);
            self.line(line, LEFT, self.y, size, Some(node));
            self.y += size * LEADING;
        }
    }

    fn title(&mut self, sheet: &Sheet) {
        self.mark(Mark::Area { left: LEFT, top: 34.0, width: WIDTH, height: 4.0, ink: Ink::Line });
        self.y = 44.0;
        let title = self.lines(&[run(Look::Strong, &sheet.title)], WIDTH, 23.0);
        let node = self.node(0, Meaning::Title(sheet.title.clone()));
        for line in &title {
            self.line(line, LEFT, self.y, 23.0, Some(node));
            self.y += 23.0 * LEADING;
        }
        self.text(&[run(Look::Plain, &sheet.subtitle)], 11.5);
        self.y += 1.0;
        self.text(&[run(Look::Faint, &sheet.made)], BODY);
        self.y += 8.0;
    }

    fn heading(&mut self, level: u8, text: &str, next: Option<&Block>) {
        let (size, before, after) = if level == 2 { (14.0, 16.0, 5.0) } else { (10.5, 12.0, 4.0) };
        self.gap(before);
        // A heading never stands alone at the foot of a page.
        let follows = match next {
            Some(Block::Table(_)) => 52.0,
            Some(Block::Figure(_)) => 150.0,
            Some(Block::Facts(_)) => 70.0,
            Some(Block::Heading(..)) => 60.0,
            _ => 30.0,
        };
        self.need(size * LEADING + after + follows);
        let page = self.laid.pages.len() - 1;
        self.laid.headings.push((level, text.to_owned(), page, self.y));
        let lines = self.lines(&[run(Look::Strong, text)], WIDTH, size);
        let node = self.node(0, Meaning::Heading(u16::from(level), text.to_owned()));
        for line in &lines {
            self.line(line, LEFT, self.y, size, Some(node));
            self.y += size * LEADING;
        }
        self.y += after;
    }

    fn block(&mut self, block: &Block, next: Option<&Block>) {
        match block {
            Block::Heading(level, text) => self.heading(*level, text, next),
            Block::Text(runs) => {
                self.text(runs, BODY);
                self.y += 3.0;
            }
            Block::Facts(facts) => self.facts(facts),
            Block::Table(table) => self.table(table),
            Block::Figure(plot) => {
                let height = 138.0;
                self.gap(4.0);
                self.need(height + 8.0);
                let node = self.node(0, Meaning::Figure(plot.says()));
                let mut shapes = plot.draw(WIDTH, height);
                for shape in &mut shapes {
                    if let Shape::Text { text, .. } = shape {
                        *text = self.faces.printable(text).0;
                    }
                }
                self.mark(Mark::Figure { left: LEFT, top: self.y, shapes, node });
                self.y += height + 6.0;
            }
            Block::Caution(text) => {
                let lines = self.lines(&[run(Look::Plain, text)], WIDTH - 14.0, BODY);
                let height = lines.len() as f32 * BODY * LEADING;
                self.gap(6.0);
                self.need(height + 6.0);
                self.mark(Mark::Area {
                    left: LEFT,
                    top: self.y,
                    width: 3.0,
                    height: height + 1.0,
                    ink: Ink::Line,
                });
                let node = self.node(0, Meaning::Paragraph);
                for line in &lines {
                    self.line(line, LEFT + 12.0, self.y, BODY, Some(node));
                    self.y += BODY * LEADING;
                }
                self.y += 8.0;
            }
            Block::PageBreak => {
                if self.y > TOP {
                    self.new_page();
                }
            }
            Block::Signature(places) => self.signature(places),
        }
    }

    /// Sets labels over their values in four columns.
    fn facts(&mut self, facts: &[(&'static str, Vec<Run>)]) {
        let width = WIDTH / 4.0;
        for row in facts.chunks(4) {
            let cells: Vec<(Lines, Lines)> = row
                .iter()
                .map(|(label, value)| {
                    (
                        self.lines(&[run(Look::Faint, *label)], width - 8.0, 7.6),
                        self.lines(value, width - 8.0, BODY),
                    )
                })
                .collect();
            let height = cells
                .iter()
                .map(|(l, v)| l.len() as f32 * 7.6 * LEADING + v.len() as f32 * BODY * LEADING)
                .fold(0.0, f32::max);
            self.need(height);
            for (i, (label, value)) in cells.iter().enumerate() {
                let node = self.node(0, Meaning::Paragraph);
                let left = LEFT + i as f32 * width;
                let mut top = self.y;
                for line in label {
                    // Read aloud, the label needs a stop before its value.
                    let mut line = line.clone();
                    if let Some(last) = line.last_mut() {
                        last.text.push(' ');
                    }
                    self.line(&line, left, top, 7.6, Some(node));
                    top += 7.6 * LEADING;
                }
                for line in value {
                    self.line(line, left, top, BODY, Some(node));
                    top += BODY * LEADING;
                }
            }
            self.y += height + 5.0;
        }
    }

    /// Sets the heads of a table; again on each page, where they are decoration.
    fn heads(&mut self, columns: &[Column], edges: &[(f32, f32)], node: Option<usize>) {
        let row = node.map(|table| self.node(table, Meaning::HeadRow));
        let cells: Vec<Lines> = columns
            .iter()
            .zip(edges)
            .map(|(c, (_, width))| self.lines(&[run(Look::Strong, c.head)], *width, 7.8))
            .collect();
        let most = cells.iter().map(Vec::len).max().unwrap_or(1);
        for ((column, (left, width)), lines) in columns.iter().zip(edges).zip(&cells) {
            let cell = row.map(|row| self.node(row, Meaning::HeadCell));
            for (n, line) in lines.iter().enumerate() {
                let top = self.y + (most - lines.len() + n) as f32 * 7.8 * 1.25;
                self.line(line, self.aligned(column, *left, *width, line, 7.8), top, 7.8, cell);
            }
        }
        self.y += most as f32 * 7.8 * 1.25 + 3.5;
        self.rule(Ink::Text, 0.9);
        self.y += 2.5;
    }

    fn rule(&mut self, ink: Ink, width: f32) {
        self.mark(Mark::Line {
            points: vec![(LEFT, self.y), (LEFT + WIDTH, self.y)],
            ink,
            width,
            dashed: false,
        });
    }

    /// Returns where a line of a cell begins: on the right, the ink ends at the column's edge.
    fn aligned(&self, column: &Column, left: f32, width: f32, line: &[Piece], size: f32) -> f32 {
        if !column.right {
            return left;
        }
        let last = line.len().saturating_sub(1);
        let ink: f32 = line
            .iter()
            .enumerate()
            .map(|(i, p)| {
                let text = if i == last { p.text.trim_end() } else { &p.text };
                self.faces.width(text, cut(p.look), sized(p.look, size))
            })
            .sum();
        left + (width - ink).max(0.0)
    }

    fn table(&mut self, table: &Table) {
        let shares: f32 = table.columns.iter().map(|c| c.share).sum();
        let gutter = 9.0;
        let mut left = LEFT;
        let edges: Vec<(f32, f32)> = table
            .columns
            .iter()
            .map(|c| {
                let width = WIDTH * c.share / shares;
                let edge = (left, width - gutter);
                left += width;
                edge
            })
            .collect();
        let node = self.node(0, Meaning::Table(table.says.clone()));
        self.need(48.0);
        self.heads(&table.columns, &edges, Some(node));
        let step = SMALL * 1.32;
        for row in &table.rows {
            let cells: Vec<Lines> =
                row.iter().zip(&edges).map(|(cell, (_, width))| self.lines(cell, *width, SMALL)).collect();
            let most = cells.iter().map(Vec::len).max().unwrap_or(1);
            let whole = most as f32 * step + 5.0;
            // A row stays on one page, unless no page could hold it.
            if self.y + whole > BOTTOM && whole < (BOTTOM - TOP) * 0.6 {
                self.new_page();
                self.heads(&table.columns, &edges, None);
            }
            let row = self.node(node, Meaning::Row);
            let nodes: Vec<usize> = edges.iter().map(|_| self.node(row, Meaning::Cell)).collect();
            let mut n = 0;
            while n < most {
                if self.y + step > BOTTOM {
                    self.new_page();
                    self.heads(&table.columns, &edges, None);
                }
                let fits = (((BOTTOM - self.y) / step).floor() as usize).clamp(1, most - n);
                for (i, lines) in cells.iter().enumerate() {
                    let (left, width) = edges[i];
                    for (k, line) in lines.iter().enumerate().skip(n).take(fits) {
                        let x = self.aligned(&table.columns[i], left, width, line, SMALL);
                        self.line(line, x, self.y + (k - n) as f32 * step, SMALL, Some(nodes[i]));
                    }
                }
                self.y += fits as f32 * step;
                n += fits;
            }
            self.y += 2.5;
            self.rule(Ink::Rule, 0.5);
            self.y += 2.5;
        }
        self.y += 4.0;
    }

    fn signature(&mut self, places: &[&'static str]) {
        self.gap(44.0);
        self.need(30.0);
        let width = WIDTH / places.len().max(1) as f32;
        for (i, place) in places.iter().enumerate() {
            let left = LEFT + i as f32 * width;
            self.mark(Mark::Line {
                points: vec![(left, self.y), (left + width - 24.0, self.y)],
                ink: Ink::Text,
                width: 0.7,
                dashed: false,
            });
            let lines = self.lines(&[run(Look::Faint, *place)], width - 24.0, SMALL);
            let node = self.node(0, Meaning::Paragraph);
            for line in &lines {
                self.line(line, left, self.y + 3.0, SMALL, Some(node));
            }
        }
        self.y += 20.0;
    }

    /// Sets the running line and the page's number on each page.
    fn footers(&mut self, sheet: &Sheet) {
        let of = self.laid.pages.len();
        let running = self.faces.printable(&format!("{} · {}", sheet.running, sheet.keeper)).0;
        for (i, page) in self.laid.pages.iter_mut().enumerate() {
            let number = format!("page {} of {of}", i + 1);
            let (y, size) = (PAGE.1 - 30.0, 7.6);
            let wide = self.faces.width(&number, cut(Look::Faint), size);
            page.push(Mark::Line {
                points: vec![(LEFT, y - 12.0), (LEFT + WIDTH, y - 12.0)],
                ink: Ink::Rule,
                width: 0.5,
                dashed: false,
            });
            page.push(Mark::Text {
                x: LEFT,
                y,
                size,
                look: Look::Faint,
                ink: Ink::Faint,
                text: running.clone(),
                node: None,
            });
            let x = LEFT + WIDTH - wide;
            page.push(Mark::Text {
                x,
                y,
                size,
                look: Look::Faint,
                ink: Ink::Faint,
                text: number,
                node: None,
            });
        }
    }
}
