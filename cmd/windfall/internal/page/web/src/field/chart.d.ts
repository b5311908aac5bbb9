// A map and its plan as mapfile.Chart writes them: metres east and north of the pad.
import type { XY } from "./frame.js";

export interface Zone { name: string; for?: string; rings: XY[][] }
export interface Line { name: string; path: XY[]; width_m?: number; pod?: number }
export interface Spot { name: string; at: XY; probability?: number }
export interface Ray { by: string; from: XY; to: XY; bearing_deg: number; spread_deg?: number; text: string }

export interface Stage {
  block?: string; rectangle?: boolean; text: string; later?: string; start_min: number; end_min: number;
  spacing_m?: number; pos?: number; path: XY[]; lanes?: XY[][]; ground?: XY[];
}

export interface Searcher {
  name: string; kind: string; n: number; summary: string; start: XY; start_name?: string; minutes: number; free?: boolean;
  stages: Stage[];
}

export interface Chart {
  title: string; subtitle: string; pad: { lat: number; lon: number }; declination_deg?: number;
  areas: { probability: number; rings: XY[][] }[];
  places?: Zone[]; no_go?: Zone[]; covers?: Zone[]; barriers?: Line[]; crossings?: Spot[]; spots?: Spot[]; parts?: Spot[];
  sightings?: Ray[]; covered?: Line[];
  /** the chance as a picture, in place of the areas' fills */
  picture?: { url: string; bounds: [[number, number], [number, number]] };
  plan?: { begin?: string; minutes: number; pos: number; enough_min?: number; enough_pos?: number };
  searchers?: Searcher[]; cautions?: string[]; contacts?: string[];
}

/** One fix of a position. */
export interface Fix { t: number; lat: number; lon: number; acc: number }
