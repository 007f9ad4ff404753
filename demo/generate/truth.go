package main

// logs lists the demo's logs with the invented truth behind each. The values are chosen so that the skins come out where a
// body of that size and those watts would be; they are not what the device files say, and finwright never sees them.
func logs() []log {
	return []log{directionFinder(), caveLamp(), roadWeather()}
}

func directionFinder() log {
	const processor, board, cell, back, front = 0, 1, 2, 3, 4
	return log{
		path: "direction-finder/runs/first-afternoon.csv",
		what: "an invented afternoon with two thermocouples on an invented receiver",
		truth: network{
			lumps: []lump{
				processor: {name: "processor", capacityJK: 4, powerW: 3.3},
				board:     {name: "board", capacityJK: 26, powerW: 1.7},
				cell:      {name: "cell", capacityJK: 27},
				back:      {name: "back", capacityJK: 52, areaM2: 0.0115, heightM: 0.098, emissivity: 0.92},
				front:     {name: "front", capacityJK: 42, areaM2: 0.0098, heightM: 0.098, emissivity: 0.9},
			},
			links: []link{
				{processor, board, 0.30}, {board, cell, 0.12}, {board, front, 0.075}, {board, back, 0.03},
				{cell, back, 0.02}, {processor, back, 0.01}, {back, front, 0.03},
			},
			sensor: processor,
			stopC:  91,
		},
		around: air{startC: 23.5, driftKPerHour: 0.4},
		startC: 23.5,
		rowS:   10, untilS: 3600, coolS: 900,
		channels: []channel{{"back", back, 0.3}, {"glass", front, -0.2}},
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
				led:     {name: "LED", capacityJK: 1.5, powerW: 4.4},
				carrier: {name: "carrier", capacityJK: 16, powerW: 0.5},
				cell:    {name: "cell", capacityJK: 45, powerW: 0.2},
				front:   {name: "front", capacityJK: 16, areaM2: 0.0048, heightM: 0.046, emissivity: 0.9},
				boot:    {name: "boot", capacityJK: 55, areaM2: 0.0135, heightM: 0.046, emissivity: 0.9},
			},
			links:  []link{{led, carrier, 0.5}, {carrier, front, 0.12}, {carrier, boot, 0.05}, {carrier, cell, 0.02}, {cell, boot, 0.08}, {front, boot, 0.04}},
			sensor: carrier,
			steps:  []step{{68, 63.5, 0.6}, {78, 73.5, 0.35}},
		},
		around: air{startC: 21, driftKPerHour: 0.3},
		startC: 21,
		rowS:   10, untilS: 3000,
		channels: []channel{{"front", front, -0.3}, {"boot", boot, 0.2}},
		seed:     47,
	}
}

func roadWeather() log {
	const computer, board, supply, front, back = 0, 1, 2, 3, 4
	return log{
		path: "road-weather/runs/july-noon.csv",
		what: "an invented July noon with an invented roadside computer in the sun",
		truth: network{
			lumps: []lump{
				computer: {name: "computer", capacityJK: 8, powerW: 2.7},
				board:    {name: "board", capacityJK: 40, powerW: 1.3},
				supply:   {name: "supply", capacityJK: 130},
				front:    {name: "front", capacityJK: 70, fixedW: 6.2, areaM2: 0.0205, heightM: 0.13, emissivity: 0.9},
				back:     {name: "back", capacityJK: 100, areaM2: 0.0225, heightM: 0.13, emissivity: 0.9},
			},
			links:  []link{{computer, board, 0.35}, {board, supply, 0.1}, {board, front, 0.07}, {board, back, 0.02}, {supply, back, 0.1}, {front, back, 0.05}},
			sensor: board,
			stopC:  85,
		},
		around: air{startC: 34.5, driftKPerHour: 0.5},
		startC: 34.5,
		rowS:   60, untilS: 5 * 3600, coolS: 2400,
		channels: []channel{{"lid", front, 0.3}, {"back", back, -0.2}},
		seed:     59,
	}
}
