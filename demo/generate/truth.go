package main

// logs lists the demo's logs with the invented truth behind each. The values are chosen so that the skins come out where a
// body of that size and those watts would be; they are not what the device files say, and finwright never sees them.
func logs() []log {
	return []log{directionFinder(), caveLamp(), roadWeather()}
}

func directionFinder() log {
	const processor, frame, cell, back, front, glass = 0, 1, 2, 3, 4, 5
	return log{
		path: "direction-finder/runs/first-afternoon.csv",
		what: "an invented afternoon with two thermocouples on an invented receiver",
		truth: network{
			lumps: []lump{
				processor: {name: "processor", capacityJK: 6, powerW: 2.8},
				frame:     {name: "frame", capacityJK: 32, powerW: 1.7},
				cell:      {name: "cell", capacityJK: 29, powerW: 0.15},
				back:      {name: "back", capacityJK: 60, areaM2: 0.0105, heightM: 0.098, emissivity: 0.92},
				front:     {name: "front", capacityJK: 38, areaM2: 0.0095, heightM: 0.098, emissivity: 0.9},
				glass:     {name: "glass", capacityJK: 7, areaM2: 0.0019, heightM: 0.034, emissivity: 0.9},
			},
			links: []link{
				{processor, frame, 0.122}, {frame, front, 0.062}, {frame, back, 0.032}, {frame, glass, 0.02},
				{frame, cell, 0.006}, {cell, back, 0.12}, {back, front, 0.05}, {glass, front, 0.012},
			},
			sensor: processor,
			stopC:  97.2,
		},
		around: air{startC: 23.5, driftKPerHour: 0.4},
		startC: 23.5,
		rowS:   10, untilS: 3600, coolS: 900,
		channels: []channel{{"back", back, 0.3}, {"glass", glass, -0.2}},
		seed:     31,
	}
}

func caveLamp() log {
	const led, carrier, cell, front, boot = 0, 1, 2, 3, 4
	return log{
		path: "cave-lamp/runs/on-the-bench.csv",
		what: "an invented evening with an invented helmet lamp on the bench, bright mode",
		truth: network{
			lumps: []lump{
				led:     {name: "LED", capacityJK: 1.5, powerW: 5.8},
				carrier: {name: "carrier", capacityJK: 14, powerW: 0.9},
				cell:    {name: "cell", capacityJK: 45, powerW: 0.3},
				front:   {name: "front", capacityJK: 8, areaM2: 0.0030, heightM: 0.046, emissivity: 0.9},
				boot:    {name: "boot", capacityJK: 88, areaM2: 0.0160, heightM: 0.046, emissivity: 0.9},
			},
			links:  []link{{led, carrier, 0.5}, {carrier, front, 0.22}, {carrier, boot, 0.21}, {carrier, cell, 0.01}, {cell, boot, 0.11}, {front, boot, 0.06}},
			sensor: carrier,
			steps:  []step{{60.5, 49, 0.6}, {68, 57, 0.35}},
		},
		around: air{startC: 21, driftKPerHour: 0.3},
		startC: 21,
		rowS:   10, untilS: 3000,
		channels: []channel{{"front", front, -0.3}, {"boot", boot, 0.2}},
		seed:     47,
	}
}

func roadWeather() log {
	const computer, board, supply, lid, back = 0, 1, 2, 3, 4
	return log{
		path: "road-weather/runs/july-noon.csv",
		what: "an invented July noon with an invented roadside computer in the sun",
		truth: network{
			lumps: []lump{
				computer: {name: "computer", capacityJK: 3, powerW: 2.3},
				board:    {name: "board", capacityJK: 36, powerW: 1.6},
				supply:   {name: "supply", capacityJK: 85, powerW: 0.7},
				lid:      {name: "lid", capacityJK: 42, fixedW: 6.5, areaM2: 0.0118, heightM: 0.13, emissivity: 0.9},
				back:     {name: "back", capacityJK: 165, areaM2: 0.0320, heightM: 0.13, emissivity: 0.9},
			},
			links:  []link{{computer, board, 0.13}, {board, supply, 0.035}, {board, lid, 0.075}, {board, back, 0.088}, {supply, back, 0.16}, {lid, back, 0.08}},
			sensor: board,
			stopC:  78.1,
		},
		around: air{startC: 34.5, driftKPerHour: 0.5},
		startC: 34.5,
		rowS:   30, untilS: 5 * 3600, coolS: 2400,
		channels: []channel{{"lid", lid, 0.3}, {"back", back, -0.2}},
		seed:     59,
	}
}
