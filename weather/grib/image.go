package grib

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
)

// checkPNG compares the size of the image with the number of values.
func checkPNG(data []byte, values int64) error {
	cfg, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return err
	}
	return checkSize(cfg.Width, cfg.Height, values)
}

func checkSize(w, h int, values int64) error {
	if w <= 0 || h <= 0 || int64(w)*int64(h) != values {
		return fmt.Errorf("image of %d x %d for %d values", w, h, values)
	}
	return nil
}

// unpackPNG decodes template 5.41: the integers are the samples of a grey image
// of up to 16 bits, or the bytes of an RGB (24 bits) or RGBA (32 bits) image.
// checkPNG has passed.
func unpackPNG(dst []float32, data []byte, s scaling) error {
	cfg, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return err
	}
	depth, colour := int(data[24]), data[25] // of the IHDR chunk, which comes first
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return err
	}
	a, b := s.linear()
	w := cfg.Width
	switch m := img.(type) {
	case *image.Gray:
		// The decoder stretches 1, 2 and 4 bits to 8.
		var table [256]float32
		for i := range table {
			table[i] = float32(a + b*float64(i*(1<<depth-1)/255))
		}
		for y := range cfg.Height {
			out := dst[y*w:][:w]
			for x, v := range m.Pix[y*m.Stride:][:w] {
				out[x] = table[v]
			}
		}
	case *image.Gray16:
		for y := range cfg.Height {
			row := m.Pix[y*m.Stride:][:2*w]
			out := dst[y*w:][:w]
			for x := range out {
				out[x] = float32(a + b*float64(binary.BigEndian.Uint16(row[2*x:])))
			}
		}
	case *image.RGBA: // RGB
		if colour != 2 || depth != 8 {
			return fmt.Errorf("image of colour type %d and depth %d", colour, depth)
		}
		for y := range cfg.Height {
			row := m.Pix[y*m.Stride:][:4*w]
			out := dst[y*w:][:w]
			for x := range out {
				out[x] = float32(a + b*float64(uint24(row[4*x:])))
			}
		}
	case *image.NRGBA:
		if colour != 6 || depth != 8 {
			return fmt.Errorf("image of colour type %d and depth %d", colour, depth)
		}
		for y := range cfg.Height {
			row := m.Pix[y*m.Stride:][:4*w]
			out := dst[y*w:][:w]
			for x := range out {
				out[x] = float32(a + b*float64(binary.BigEndian.Uint32(row[4*x:])))
			}
		}
	default:
		return fmt.Errorf("image of colour type %d", colour)
	}
	return nil
}
