// What the office gives along, as clients/barnside/pack.py writes it. Types only, known to every script of this folder.

type Area = { area: string; minutes: number; applicator: number | null; setting: number | null; reaction: string };
type PersonHere = [pk: number, name: string, words: string, phone: string];
type FormToSign = { pk: number; title: string; signer: string; text: string; read: string; as: [value: string, label: string, name: string][] };

type Visit = {
  pk: number;
  horse: string;
  looks: string;
  handling: string;
  starts: string;
  minutes: number;
  service: string;
  service_pk: number;
  full: boolean;
  machine: boolean;
  machine_name: string;
  status: string;
  plan: string;
  vet: [name: string, phone: string] | null;
  next: { day: string; words: string } | null;
  photos: boolean | null;
  permission: { result: string; label: string; reasons: [result: string, sentence: string, clears: string][]; notes: string[] };
  cautions: { area: string; words: string }[];
  people: PersonHere[];
  last: { words: string; ease: number | null; reaction: string; areas: Omit<Area, "reaction">[] } | null;
  forms: FormToSign[];
  ahead: string;
};

type Stop = {
  key: string;
  barn: string;
  address: string;
  place: string;
  note: string;
  power: string;
  signal: string;
  phone: string;
  light: string;
  starts: string;
  isolation: boolean;
  set_up: string[] | null;
  visits: number[];
};

type Day = { day: string; words: string; map: string; stops: Stop[]; visits: Record<string, Visit> };

type Scale = { name: string; title: string; unit: string; low: number; high: number; step: number; source: string; whose: string };

type Pack = {
  version: number;
  made: number;
  ends: number;
  taken: number;
  person: { pk: number; name: string };
  phone: number;
  slips: number;
  may: { override: boolean; money: boolean };
  business: { name: string; currency: string; inches: boolean; first_session: string[]; after_care: string[] };
  body: [area: string, group: string, offered: boolean][];
  minutes: number;
  applicators: [pk: number, words: string][];
  services: [pk: number, words: string][];
  lists: Record<string, [key: string, words: string][]>;
  scales: Scale[];
  causes: [value: string, words: string][];
  days: Day[];
};
