//! The vertices of every colour, with the place of each, so that a move costs constant time.

use super::{Colour, NONE};

/// A colouring, full or partial.
#[derive(Debug)]
pub(super) struct Classes {
    pub(super) colour: Vec<Colour>,
    members: Vec<Vec<u32>>,
    place: Vec<u32>,
}

impl Classes {
    pub(super) fn new(vertices: usize, colours: usize) -> Self {
        Self {
            colour: vec![NONE; vertices],
            members: vec![Vec::new(); colours],
            place: vec![0; vertices],
        }
    }

    pub(super) fn clear(&mut self) {
        self.colour.fill(NONE);
        self.members.iter_mut().for_each(Vec::clear);
    }

    pub(super) fn members(&self, colour: Colour) -> &[u32] {
        &self.members[colour as usize]
    }

    pub(super) fn put(&mut self, vertex: usize, colour: Colour) {
        self.colour[vertex] = colour;
        let members = &mut self.members[colour as usize];
        self.place[vertex] = members.len() as u32;
        members.push(vertex as u32);
    }

    pub(super) fn take(&mut self, vertex: usize) {
        let colour = std::mem::replace(&mut self.colour[vertex], NONE);
        if colour == NONE {
            return;
        }
        let members = &mut self.members[colour as usize];
        let place = self.place[vertex] as usize;
        members.swap_remove(place);
        if let Some(&moved) = members.get(place) {
            self.place[moved as usize] = place as u32;
        }
    }
}

/// A set of vertices as a list in which each knows its place.
#[derive(Debug)]
pub(super) struct Bag {
    pub(super) list: Vec<u32>,
    place: Vec<u32>,
}

impl Bag {
    pub(super) fn new(vertices: usize) -> Self {
        Self { list: Vec::new(), place: vec![u32::MAX; vertices] }
    }

    pub(super) fn clear(&mut self) {
        self.list.clear();
        self.place.fill(u32::MAX);
    }

    pub(super) fn set(&mut self, vertex: usize, inside: bool) {
        let place = self.place[vertex];
        if inside && place == u32::MAX {
            self.place[vertex] = self.list.len() as u32;
            self.list.push(vertex as u32);
        } else if !inside && place != u32::MAX {
            self.list.swap_remove(place as usize);
            if let Some(&moved) = self.list.get(place as usize) {
                self.place[moved as usize] = place;
            }
            self.place[vertex] = u32::MAX;
        }
    }
}
