package store

import (
	"context"
	"fmt"
	"sync"

	"github.com/klauspost/compress/zstd"
	"gorm.io/gorm"
)

const (
	docWindow = 1 << 20   // bytes in which the compressor finds repetitions
	maxDoc    = 256 << 20 // bytes of the largest document that is read
)

// docEncoder and docDecoder are safe for concurrent use of EncodeAll and DecodeAll.
var (
	docEncoder = sync.OnceValue(func() *zstd.Encoder {
		e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBetterCompression), zstd.WithEncoderConcurrency(2), zstd.WithWindowSize(docWindow))
		if err != nil {
			panic(err) // the options are constants
		}
		return e
	})
	docDecoder = sync.OnceValue(func() *zstd.Decoder {
		d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(2), zstd.WithDecoderMaxMemory(maxDoc))
		if err != nil {
			panic(err)
		}
		return d
	})
)

// compressed returns a document as it is stored.
func compressed(doc []byte) []byte { return docEncoder().EncodeAll(doc, nil) }

// document returns a stored document: compressed, or as text where an earlier version stored it.
func document(text string, z []byte) ([]byte, error) {
	if z == nil {
		return []byte(text), nil
	}
	doc, err := docDecoder().DecodeAll(z, nil)
	if err != nil {
		return nil, fmt.Errorf("decompress a document: %w", err)
	}
	return doc, nil
}

// compressBatch is the number of documents compressed in one transaction.
const compressBatch = 20

// compressStored compresses the documents of a site that an earlier version stored as text.
func (s *Store) compressStored(ctx context.Context, site string) (n int64, err error) {
	for _, of := range []struct {
		row         any // row model
		column, key string
	}{{planDocumentRow{}, "plan", "revision"}, {planDocumentRow{}, "request", "revision"}, {sheetRow{}, "sheet", "id"}} {
		for {
			done, err := s.compressSome(ctx, site, of.row, of.column, of.key)
			n += done
			if err != nil {
				return n, err
			}
			if done < compressBatch {
				break
			}
		}
	}
	return n, nil
}

func (s *Store) compressSome(ctx context.Context, site string, row any, column, key string) (n int64, err error) {
	err = s.within(ctx, func(tx *Store) error {
		var list []struct {
			Key int64
			Doc string
		}
		table := func() *gorm.DB { return tx.db.WithContext(ctx).Model(row).Where("site = ?", site) }
		if err := table().Select(key + " AS key, " + column + " AS doc").Where(column + " <> ''").Limit(compressBatch).Scan(&list).Error; err != nil {
			return err
		}
		for _, r := range list {
			if err := table().Where(key+" = ?", r.Key).Updates(map[string]any{column: "", column + "_zstd": compressed([]byte(r.Doc))}).Error; err != nil {
				return err
			}
		}
		n = int64(len(list))
		return nil
	})
	return n, err
}
