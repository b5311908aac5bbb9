// What the API answers, as far as the page reads it; docs/api.yaml has it whole.
import type { FeatureCollection } from "geojson";

export type Value = string | Value[] | { [key: string]: Value };
export type Values = { [key: string]: Value };

export interface Fault { field?: string; file?: string; line?: number; message: string }

export interface Drawn { field: FeatureCollection | null; ground: FeatureCollection | null }

export interface Flight {
  path: string;
  hash: string;
  text: string;
  values: Values;
  drawn: Drawn;
  drawn_hash: { field: string; ground: string };
  drawn_file: { field: string; ground: string };
  pad: { lat: number; lon: number } | null;
  files: string[];
  fault?: Fault;
  may_change: boolean;
}

export interface Edit { key: string; value?: string; insert?: boolean }

export interface DraftBody {
  base: string;
  edits: Edit[];
  drawn?: { [which: string]: { base: string; shapes: FeatureCollection | null } };
}

export interface Chance { name: string; kind: string; probability: number; se: number }

export interface Summary {
  flight: string; seed: number; runs: number;
  nominal: { apogee_m: number; landing_s: number; landing_mps: number; rail_exit_mps: number; ejection_mps: number | null };
  landing: { mean: { lat: number; lon: number; east_m: number; north_m: number }; areas: { probability: number; area_m2: number }[] };
  outcomes: { name: string; probability: number; se: number }[];
  places: Chance[];
  sensitivity?: { name: string; share: number }[];
  assumptions: string[];
  cautions: string[];
  rules?: { code: string; within: boolean }[];
}

export interface WindCurve { weight: number; label: string; points: { height_m: number; u_mps: number; v_mps: number }[] }

export interface Try {
  id: string;
  result: Summary;
  shapes: FeatureCollection;
  sinks: { name: string; mps: number }[];
  wind: WindCurve[];
  hours: string[];
  rail: { lean_deg: number; toward_deg: number };
  pad: { lat: number; lon: number };
  declination_deg: number | null;
  warnings: string[];
}

export interface Row { label?: string; hour?: string; places: Chance[]; probability: number | null; se: number | null; best: boolean; equal: boolean }

export interface Field { key: string; label: string; kind: string; units?: string[]; example?: string; help?: string; choices?: string[] }
export interface Group {
  title: string; help?: string; fields: Field[]; list?: string; item?: string; add?: string;
  new?: { [key: string]: string }; wind?: boolean; measured?: boolean;
}
export interface Keys { units: { [kind: string]: { [unit: string]: number | [number, number] } }; groups: Group[] }

export interface Job {
  id: string; command: string; state: "waiting" | "running" | "done" | "failed" | "cancelled";
  line: string; done: number; total: number; stage: string; error?: string; files?: string[];
}

export interface BaseMap { kind: "none" | "tiles" | "image"; url?: string; attribution?: string; min_zoom?: number; max_zoom?: number; bounds?: [[number, number], [number, number]] }
