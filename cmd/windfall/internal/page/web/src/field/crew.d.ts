// The field as GET /api/v1/field answers it; docs/api.yaml has it whole.

export interface Button { event: string; heard?: boolean; label: string; late_s: number; spread_s: number; source: string }
export interface Position { lat: number; lon: number; accuracy_m?: number; at: string; age_s: number }
export interface Person { id: string; name: string; host: boolean; here: boolean; searcher?: string; seen?: string; position?: Position }
export interface CrewSearcher { name: string; kind: string; speed_mps: number; available_min: number; state: "expected" | "in" | "late" | "left"; by?: string; at?: string; late_min?: number }
export interface LaneState { key: string; plan: number; block: string; lane: number; state: string; by: string; at: string; also?: string }
export interface LogEntry { id?: number; key?: string; kind: string; by: string; at: string; says: string; withdrawn: boolean; revision: number; body: any }
export interface FieldPlan { number: number; key: string; at: string; by: string; begin?: string; cautions?: string[] }

export interface FieldDoc {
  version: number; now: string;
  flight: { id: string; when?: string; pad: { lat: number; lon: number }; elevation_m?: number; declination_deg: number | null; parts?: string[]; outcomes?: string[] };
  ignition: { key: string; at: string; by: string } | null;
  buttons: Button[]; me: Person; people: Person[]; searchers: CrewSearcher[]; plan: FieldPlan | null; progress: LaneState[];
  entries: LogEntry[]; finds: LogEntry[]; conflicts: { message: string; ids?: number[] }[];
  left: { version: number; stale: boolean; probability_of_success_total: number; outside_map: number; advice?: string } | null;
}
